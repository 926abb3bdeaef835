"""Role x relation x age x permission x door: what each reader meets at each door, held against the contract's table.

The expected cell is worked out by the second reading of the contract (tests/core/permissions/contract_table.py) from
facts written here by hand; the cell found is what stands in the answer's body.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import chain
from typing import Any
from uuid import UUID

import pytest
from django.core import mail
from django.test import Client

from athletes.models import (
    Clearance,
    CoachAssignment,
    Guardianship,
    Membership,
    Person,
    Restriction,
    Withholding,
)
from sessions.models import CalendarAddress, Notice
from sessions.services.calendar_addresses import hash_of
from sessions.services.keep_pain import PainSaid, keep_pain
from sessions.services.mail_changes import mail_changes
from sessions.services.tell_pain import tell_pain
from teamtrack.common.clock import today_in, utc_now
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
RESTRICTED = ("health", "share", "feedback", "feed")
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
    called_off: Any

    @property
    def full(self) -> Person:
        return self.readers["guardian"].person


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
    families = (athlete, full, *others.values(), kept_out, former)
    readers = {
        "the athlete": Reader(athlete, "athlete", "athlete", named=True),
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
    for purpose in ("health", "share", "feed"):
        for giver, words in ((athlete, said["athlete_said"]), (full, said["guardian_said"])):
            for word in words:
                named = families if purpose == "feed" else names
                event = answer(athlete, giver, purpose, word, names=named, evidence=evidence)
                if state == "expired":
                    type(event).objects.filter(pk=event.pk).update(until=event.at)
    facts["evidence"], facts["expired"] = evidence, state == "expired"
    if state == "restricted":
        for purpose in RESTRICTED:
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
    make_session(group, day=today + timedelta(days=1), athletes=(athlete,))
    called_off = make_session(group, day=today + timedelta(days=2), athletes=(athlete,))
    type(called_off).objects.filter(pk=called_off.pk).update(state="called_off")
    return Case(scene, athlete, readers, facts, said["guardian"], said["athlete"], pain, called_off)


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
    row["restricted"] = state == "restricted" and purpose in RESTRICTED
    row["guardians"] = [{"authority": "full", "stance": case.guardian}] + [
        {"authority": word} for word in ("care", "limited", "unverified", "full")
    ]
    if purpose == "feed":
        row |= {"act": "use", "athlete": case.own, "withheld": reader.withheld}
        if reader.role == "guardian":
            mine = {"authority": reader.authority, "stance": case.guardian if reader.person == case.full else "none"}
            row["guardians"] = [mine, *row["guardians"]]
    elif purpose == "copy":
        row |= {"act": "export", "withheld": reader.withheld, "guardians": [{"authority": reader.authority or "full"}]}
        row.pop("purpose")
    elif purpose == "emergency":
        row |= {"act": "use", "purpose": "health", "by": "emergency_access", "athlete_incapable": True}
        row["restricted"] = state == "restricted"
    elif purpose == "mail":
        row |= {"act": "message", "by": "head_coach", "emergency": True, "copy_to": "guardian"}
        row.pop("purpose")
    elif reader.role == "guardian":
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
        if reader.role == "athlete":
            continue
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


def told_cells(case: Case, state: str, signed_in: Any) -> Iterator[tuple[str, str, Any, Any]]:
    """The same for what leaves the pages: calendars, copies, mail, print, and what search finds."""
    athlete, mailed = case.athlete, mails_about(case)
    for who, reader in case.readers.items():
        browser = signed_in(reader.person)
        if reader.role in ("athlete", "guardian"):
            feed, copied, plan = (may(case, reader, one, state) for one in ("feed", "copy", "plan"))
            yield who, "calendar address", lines_in_calendar(reader.person), feed
            door = f"/{reader.role}/copy/{athlete.pk}/file"
            yield who, door, found_in(browser.get(door)), (copied, copied, copied)
            if reader.role == "guardian":
                yield who, "mail", NAME in mailed[reader.person.pk], plan
            else:
                yield who, "mail", bool(mailed[reader.person.pk]), may(case, reader, "mail", state)
        elif reader.role in ("admin", "head_coach"):
            door, knows = f"/{reader.role.replace('_', '-')}/people/find", may(case, reader, "record", state)
            found = browser.post(door, {"name": NAME}).content.decode()
            yield who, door, str(athlete.pk) in found, knows
            if reader.role == "admin":
                for printed in (browser.post("/admin/roster/emergency"), browser.get("/admin/roster/out")):
                    yield who, printed.request["PATH_INFO"], found_in(printed), (knows, False, False)
        elif reader.role == "coach":
            door = f"/coach/groups/{case.scene.group.pk}/hand-over"
            shown = reader.by == "coach" and may(case, reader, "feedback", state)
            yield who, door, found_in(browser.get(door))[::2], (shown, False)
        assert not any(word in mailed[reader.person.pk] for word in (CUE, PAIN)), who


def emergency_cells(case: Case, state: str, signed_in: Any) -> Iterator[tuple[str, str, Any, Any]]:
    """What an emergency opens, whoever tries; last, for the family and the admins are told."""
    for who, reader in case.readers.items():
        browser = signed_in(reader.person)
        opener = reader.role if reader.role in ("admin", "welfare") else "coach"
        door = f"/{opener}/emergency/{case.athlete.pk}"
        browser.post(f"{door}/open", {"cannot_answer": "on", "reason": "does not answer"})
        knows = reader.by == opener and may(case, reader, "record", state)
        reads = knows and (may(case, reader, "health", state) or may(case, reader, "emergency", state))
        yield who, door, shown_at(browser, door)[::2], (knows, reads)


def lines_in_calendar(person: Person) -> bool:
    """Whether a calendar program finds a session under the person's address."""
    CalendarAddress.objects.create(
        club=person.club, person=person, secret_hash=hash_of(str(person.pk)), made_at=utc_now()
    )
    found = Client().get(f"/calendar/{person.pk}.ics")
    assert found.status_code in (200, 404)
    return b"BEGIN:VEVENT" in found.content


def mails_about(case: Case) -> dict[UUID, str]:
    """What each reader is mailed of a session that was called off, as far as the mail's own question lets it."""
    family = [one.person for one in case.readers.values() if one.role in ("athlete", "guardian")]
    for person in family:
        Person.objects.filter(pk=person.pk).update(email=f"{person.pk}@club.test")
        Notice.objects.create(
            club=person.club, to=person, kind="called_off", about=None if person == case.athlete else case.athlete,
            training_session=case.called_off, made_at=utc_now(),
        )  # fmt: skip
    mail.outbox.clear()
    mail_changes(target_id=case.called_off.pk)
    found: dict[UUID, str] = defaultdict(str)
    for one in mail.outbox:
        found[UUID(one.to[0].split("@")[0])] += one.subject + one.body
    return found


def found_in(answered: Any) -> tuple[bool, bool, bool]:
    """The same three of a file or a print; what is refused, in whatever words, holds none of them."""
    body = b"" if answered.status_code >= 400 else answered.content
    return tuple(word.encode() in body for word in (NAME, CUE, PAIN))


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
def test_no_cell_is_unexpected(signed_in, settings, age, state) -> None:
    settings.SENDS_MAIL = True
    case = make_case(age, state)
    tell_pain(entry_id=case.pain.pk)
    every = [part(case, state, signed_in) for part in (cells, told_cells, emergency_cells)]
    wrong = [(who, door, found, expected) for who, door, found, expected in chain(*every) if found != expected]
    assert wrong == []
