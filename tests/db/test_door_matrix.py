"""Role x relation x age x permission x door: what each reader meets at each door, held against the contract's table.

The expected cell is worked out by the second reading of the contract (tests/core/permissions/contract_table.py) from
facts written here by hand; the cell found is what stands in the answer's body.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import pytest

from athletes.models import (
    Clearance,
    CoachAssignment,
    Guardianship,
    Membership,
    Person,
    Restriction,
    Withholding,
)
from sessions.models import Notice
from sessions.services.keep_pain import PainSaid, keep_pain
from sessions.services.tell_pain import tell_pain
from teamtrack.common.clock import today_in
from tests.core.permissions import contract_table
from tests.entries import make_entry, tell
from tests.people import (
    Scene,
    answer,
    link_guardian,
    make_athlete,
    make_coach,
    make_guardian,
    make_person,
    make_scene,
    make_session,
)
from tests.sizes import LONG

pytestmark = pytest.mark.django_db

AGES = (11, 15, 16, 17, 21, None)
DIGITAL_AGE = [16]  # Ireland, the scene's club
STATES = (
    "nothing", "yes", "only_athlete", "only_guardian", "athlete_withdrew", "guardian_no", "guardian_withdrew",
    "restricted", "left", "no_notice", "weak_evidence", "expired",
)  # fmt: skip
CUE, PAIN, NAME = "cuewords-7f31", "painwords-9c02", "Zephyrine"


@dataclass
class Reader:
    """Somebody at a door: the role that pages know, and the facts about them."""

    person: Person
    role: str
    by: str
    named: bool = False
    authority: str = ""
    withheld: bool = False
    related: bool = True


@dataclass
class Case:
    """One athlete in one state, with everybody round them."""

    scene: Scene
    athlete: Person
    readers: dict[str, Reader]
    facts: dict[str, Any]
    guardian: str
    own: str
    pain: Any


def make_case(age: int | None, state: str) -> Case:
    scene = make_scene()
    club, group = scene.club, scene.group
    athlete = make_athlete(club, NAME, group, age=age)
    today = today_in(club.timezone)
    ended = make_coach(club, "Ender")
    CoachAssignment.objects.create(
        club=club, coach=ended, group=group, first_day=date(2020, 1, 1), last_day=today - timedelta(days=1)
    )
    unchecked = make_coach(club, "Unca", group, checked=False)
    Clearance.objects.create(
        club=club, coach=unchecked, kind="background", seen_on=date(2020, 1, 1), expires_on=today - timedelta(days=1)
    )
    full = make_guardian(athlete, "Fulvia")
    others = {word: make_guardian(athlete, word.title(), authority=word) for word in ("care", "limited", "unverified")}
    kept_out = make_guardian(athlete, "Kepta")
    Withholding.objects.create(club=club, athlete=athlete, guardian=kept_out, set_by=scene.welfare, first_day=today)
    former = make_person(club, "Formia", account=True)
    link_guardian(former, athlete)
    link_guardian(former, scene.child)
    Guardianship.objects.filter(guardian=former, athlete=athlete).update(last_day=today - timedelta(days=1))
    readers = {
        "coach": Reader(scene.coach, "coach", "coach", named=True),
        "coach not named": Reader(scene.second_coach, "coach", "coach"),
        "helper": Reader(scene.helper, "coach", "coach_minor"),
        "coach whose days are over": Reader(ended, "coach", "coach_ended", named=True),
        "coach whose check ran out": Reader(unchecked, "coach", "coach_ended", named=True),
        "coach of others": Reader(scene.other_coach, "coach", "coach_other", named=True),
        "head coach": Reader(scene.head_coach, "head_coach", "head_coach", named=True),
        "admin": Reader(scene.admin, "admin", "admin"),
        "welfare lead": Reader(scene.welfare, "welfare", "welfare"),
        "guardian": Reader(full, "guardian", "guardian", authority="full"),
        "carer": Reader(others["care"], "guardian", "guardian", authority="care"),
        "limited guardian": Reader(others["limited"], "guardian", "guardian", authority="limited"),
        "guardian not checked": Reader(others["unverified"], "guardian", "guardian", authority="unverified"),
        "guardian kept out": Reader(kept_out, "guardian", "guardian", authority="full", withheld=True),
        "guardian of before": Reader(former, "guardian", "guardian", authority="full", related=False),
        "guardian of another": Reader(scene.guardian, "guardian", "guardian", authority="full", related=False),
        "coach of another club": Reader(scene.stranger, "coach", "coach", related=False),
    }
    facts: dict[str, Any] = {"age": age, "digital_age": DIGITAL_AGE}
    said = answers_of(state)
    names = (scene.coach, ended, unchecked, scene.other_coach, scene.head_coach)
    evidence = 1 if state == "weak_evidence" else 2
    for purpose in ("health", "share"):
        for giver, words in ((athlete, said["athlete_said"]), (full, said["guardian_said"])):
            for word in words:
                event = answer(athlete, giver, purpose, word, names=names, evidence=evidence)
                if state == "expired":
                    type(event).objects.filter(pk=event.pk).update(until=event.at)
    facts["evidence"], facts["expired"] = evidence, state == "expired"
    if state == "restricted":
        for purpose in ("health", "share", "feedback"):
            Restriction.objects.create(club=club, athlete=athlete, purpose=purpose, first_day=today)
    member = Membership.objects.get(athlete=athlete)
    if state == "left":
        member.last_day, facts["membership"] = today - timedelta(days=1), "left"
    if state == "no_notice":
        member.notice_shown_on, facts["notice_shown"] = None, False
    member.save()
    before = make_session(
        group, day=today - timedelta(days=1), athletes=(athlete,), coaches=(scene.coach, scene.second_coach)
    )
    tell(before, athlete, scene.coach, 1, CUE)
    pain = make_entry(before, "pain", athlete, scene.adult_athlete)
    said_pain = {"place": "knee", "side": "left", "words": PAIN}
    keep_pain(club_id=club.pk, pains=[PainSaid(pain.pk, athlete.pk, said_pain)])
    return Case(scene, athlete, readers, facts, said["guardian"], said["athlete"], pain)


def answers_of(state: str) -> dict[str, Any]:
    """What athlete and guardian said, in order, and where that leaves each."""
    athlete = {"nothing": (), "only_guardian": (), "athlete_withdrew": ("yes", "withdrawn")}.get(state, ("yes",))
    guardian = {
        "nothing": (), "only_athlete": (), "guardian_no": ("no",), "guardian_withdrew": ("yes", "withdrawn"),
    }.get(state, ("yes",))  # fmt: skip
    last = {"athlete": (athlete or ("none",))[-1], "guardian": (guardian or ("none",))[-1]}
    return last | {"athlete_said": athlete, "guardian_said": guardian}


def may(case: Case, reader: Reader, purpose: str, state: str) -> bool:
    """The contract's answer for a reader in the case."""
    if not reader.related:
        return False
    row: dict[str, Any] = case.facts | {"purpose": purpose, "by": reader.by, "athlete": "none"}
    row["restricted"] = state == "restricted" and purpose in ("health", "share", "feedback")
    row["guardians"] = [{"authority": "full", "stance": case.guardian}] + [
        {"authority": word} for word in ("care", "limited", "unverified", "full")
    ]
    if reader.role == "guardian":
        row |= {"act": "view_as_guardian", "withheld": reader.withheld}
        row["guardians"] = [{"authority": reader.authority}]
        row.pop("by")
    else:
        row |= {"act": "use", "athlete": case.own, "named_recipient": reader.named}
    return contract_table.answer(row)[0]


def cells(case: Case, state: str, signed_in: Any) -> Iterator[tuple[str, str, Any, Any]]:
    """(reader, door, found, expected) for every door that shows something of the athlete."""
    told = set(Notice.objects.filter(about=case.athlete, kind="pain").values_list("to_id", flat=True))
    athlete = case.athlete
    for who, reader in case.readers.items():
        asked = ("plan", "health") if reader.role == "guardian" else ("record", "feedback", "health", "share")
        allowed = {purpose: may(case, reader, purpose, state) for purpose in asked}
        browser = signed_in(reader.person)
        if reader.role in ("coach", "head_coach"):
            is_seen, reads = allowed["record"] or allowed["share"], allowed["feedback"] or allowed["share"]
            page = f"/{reader.role.replace('_', '-')}/athletes"
            expected = (is_seen, is_seen and reads, is_seen and allowed["health"])
            for door in (f"{page}/{athlete.pk}", f"/api/v1/athletes/{athlete.pk}/form-history?as={reader.role}"):
                yield who, door, shown_at(browser, door), expected
            yield who, page, shown_at(browser, page)[0], is_seen
            opens = allowed["record"] and reader.role == "coach"
            door = f"/coach/athletes/{athlete.pk}/written"
            expected = (opens, opens and allowed["feedback"], opens and allowed["health"])
            yield who, door, shown_at(browser, door), expected
        elif reader.role == "admin":
            yield who, "/admin/roster", shown_at(browser, "/admin/roster")[0], allowed["record"]
        elif reader.role == "guardian":
            yield who, "/guardian/family", shown_at(browser, "/guardian/family")[0], allowed["plan"]
            if not reader.related:
                door = f"/guardian/permissions/{athlete.pk}"
                yield who, door, shown_at(browser, door), (False, False, False)
        for door in ("/today", "/coach/athletes", "/head-coach/athletes", "/athlete/running"):
            found = shown_at(browser, door)
            yield who, f"words at {door}", found[1:], (False, False)
        yield who, "the task's notice", reader.person.pk in told, allowed["health"]


def shown_at(browser: Any, door: str) -> tuple[bool, bool, bool]:
    """Whether the athlete's name, the words of feedback and the words of health stand there."""
    found = browser.get(door, follow=True)
    assert found.status_code in (200, 404), door
    body = found.content.decode()
    return NAME in body, CUE in body, PAIN in body


CASES = [(age, state) for age in AGES for state in STATES]
# In the ordinary run each state at one age and each age in two states; all of them on demand.
SHORT = [(AGES[(place * 5 + place // 6) % 6], state) for place, state in enumerate(STATES)]


@pytest.mark.parametrize(("age", "state"), CASES if LONG else SHORT)
def test_no_cell_is_unexpected(signed_in, age, state) -> None:
    case = make_case(age, state)
    tell_pain(entry_id=case.pain.pk)
    wrong = [
        (who, door, found, expected)
        for who, door, found, expected in cells(case, state, signed_in)
        if found != expected
    ]
    assert wrong == []
