"""Other sport in three taps: who may say it, what it changes in the plan, and who is told by name."""

import re
from collections.abc import Callable
from datetime import date, time, timedelta

import pytest
from django.test import Client

from athletes.models import AccessLogEntry, Person, Restriction, Withholding
from sessions.models import OtherSport, PhasePolicy
from sessions.selectors.planning_problem import build_problem
from sessions.services.make_week import make_week
from teamtrack.common.clock import today_in
from tests.people import Scene, make_guardian, make_scene
from tests.planning import PlanScene, make_plan_scene, place
from tests.web.test_week_page import ready
from tests.workers import in_threads

SignIn = Callable[[Person], Client]
pytestmark = pytest.mark.django_db


def page_of(role: str, athlete: Person) -> str:
    return f"/{role}/other-sport/{athlete.pk}"


def say(client: Client, role: str, athlete: Person, **given: str) -> int:
    first = today_in(athlete.club.timezone) + timedelta(days=1)
    usual = {"day": first.isoformat(), "part": "evening", "minutes": "90", "effort": "hard"}
    return client.post(page_of(role, athlete), usual | given).status_code


def text(response) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def test_a_guardian_says_it_in_three_taps_and_takes_it_back(scene: Scene, signed_in: SignIn) -> None:
    """Family: "Other sport"; a day; how hard. All else has its usual answer on the page."""
    client, child = signed_in(scene.guardian), scene.child
    family = client.get("/guardian/family")
    assert page_of("guardian", child) in family.content.decode()
    shown = client.get(page_of("guardian", child))
    assert "Nothing said" in text(shown) and "Ivo" in text(shown)
    checked = re.findall(r'name="(part|minutes)" value="(\w+)"[^>]*checked', shown.content.decode())
    assert checked == [("part", "evening"), ("minutes", "90")]
    assert say(client, "guardian", child) == say(client, "guardian", child) == 302
    row = OtherSport.objects.get()
    assert (row.athlete, row.effort, row.starts, row.ends, row.minutes) == (child, "hard", time(17), time(21), 90)
    assert (row.said_by, row.said_as) == (scene.guardian, "guardian")
    line = AccessLogEntry.objects.get(club=scene.club)
    assert (line.verb, line.kind, line.actor_role) == ("record", "other_sport", "guardian")
    assert "17:00–21:00, hard, about 90 min" in text(client.get("/guardian/family"))
    after = client.get(page_of("guardian", child)).content.decode()
    assert "evening, hard, about 90 min" in after
    assert f'name="back" value="{row.pk}"' in after
    for _twice in range(2):
        assert client.post(page_of("guardian", child), {"back": str(row.pk)}).status_code == 302
    assert not OtherSport.objects.exists()
    undo = client.get(page_of("guardian", child)).content.decode()
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', undo[undo.index("data-undo=") :]))
    assert client.post(page_of("guardian", child), fields).status_code == 302
    again = OtherSport.objects.get()
    assert (again.effort, again.first_day, again.part, again.minutes) == ("hard", row.first_day, "evening", 90)
    assert AccessLogEntry.objects.filter(club=scene.club, verb="take_back", kind="other_sport").count() == 1


def test_the_latest_word_of_two_people_about_the_same_hours_counts(scene: Scene, signed_in: SignIn) -> None:
    assert say(signed_in(scene.guardian), "guardian", scene.child) == 302
    own = signed_in(scene.child)
    assert "/athlete/other-sport/" in own.get("/today").content.decode()
    assert say(own, "athlete", scene.child, effort="easy", minutes="60") == 302
    row = OtherSport.objects.get()
    assert (row.effort, row.minutes, row.said_as) == ("easy", 60, "athlete")
    bar = own.get(page_of("athlete", scene.child)).content.decode()
    bar = bar[bar.index("data-undo=") :]
    assert 'name="effort" value="hard"' in bar and 'name="minutes" value="90"' in bar


@pytest.mark.django_db(transaction=True)
def test_an_athlete_and_a_guardian_at_once_say_it_once_and_take_it_back_once(transactional_db: None) -> None:
    scene, clients = make_scene(), (Client(), Client())
    for client, who in zip(clients, (scene.guardian, scene.child), strict=True):
        client.force_login(who.account)
    given = ({"effort": "hard", "minutes": "90"}, {"effort": "easy", "minutes": "60"})
    works = [
        lambda client=client, role=role, own=own: say(client, role, scene.child, **own)
        for client, role, own in zip(clients, ("guardian", "athlete"), given, strict=True)
    ]
    assert in_threads(*works) == [302, 302]
    row = OtherSport.objects.get()
    lines = AccessLogEntry.objects.filter(club=scene.club, kind="other_sport").order_by("seq")
    said = list(lines.values_list("verb", "actor_role"))
    assert sorted(said) == [("record", "athlete"), ("record", "guardian")]
    assert (row.effort, row.minutes, row.said_as) == {
        "guardian": ("hard", 90, "guardian"), "athlete": ("easy", 60, "athlete"),
    }[said[-1][1]]  # fmt: skip
    back = [
        lambda client=client, role=role: client.post(page_of(role, scene.child), {"back": str(row.pk)}).status_code
        for client, role in zip(clients, ("guardian", "athlete"), strict=True)
    ]
    assert in_threads(*back) == [302, 302]
    assert not OtherSport.objects.exists()
    assert lines.filter(verb="take_back").count() == 1


def test_hours_and_weeks_can_be_typed(scene: Scene, signed_in: SignIn) -> None:
    first = today_in(scene.club.timezone) + timedelta(days=10)
    given = {"other_day": first.isoformat(), "starts": "17:30", "ends": "19:00"}
    until = (first + timedelta(days=17)).isoformat()
    assert say(signed_in(scene.athlete), "athlete", scene.athlete, **given, until=until, effort="moderate") == 302
    row = OtherSport.objects.get()
    assert (row.first_day, row.last_day) == (first, first + timedelta(days=14))
    assert (row.part, row.starts, row.ends, row.minutes) == ("", time(17, 30), time(19), 90)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"day": ""}, "Choose a day."),
        ({"day": "2020-01-01"}, "Select a valid choice"),
        ({"other_day": "2020-01-01"}, "That day is past."),
        ({"other_day": "9999-12-31"}, "too far ahead"),
        ({"until": "2020-01-01"}, "The last day has to be the first one or later."),
        ({"until": "9999-12-31"}, "too far ahead"),
        ({"starts": "19:00", "ends": "18:00"}, "The end has to be after the start."),
        ({"starts": "19:00", "ends": ""}, "Give both hours"),
        ({"starts": "19:00:10", "ends": "19:00:50"}, "Enter a valid time."),
        ({"part": ""}, "Choose a part of the day"),
        ({"minutes": "1"}, "Select a valid choice"),
        ({"effort": ""}, "Tap how hard it is."),
        ({"effort": "meet"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field_and_stays_typed(
    scene: Scene, signed_in: SignIn, given: dict[str, str], says: str
) -> None:
    client = signed_in(scene.guardian)
    kept = {"starts": "18:00", "ends": "19:00"} if "part" not in given else {}
    day = (today_in(scene.club.timezone) + timedelta(days=2)).isoformat()
    answer = client.post(
        page_of("guardian", scene.child),
        {"day": day, "part": "evening", "minutes": "90", "effort": "hard"} | kept | given,
    )
    assert answer.status_code == 400
    assert says in text(answer)
    assert not kept or 'value="18:00"' in answer.content.decode() or "starts" in given
    assert not OtherSport.objects.exists()


def test_so_much_is_enough(scene: Scene, signed_in: SignIn, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sessions.services.say_other_sport.MOST_SAID", 1)
    client = signed_in(scene.guardian)
    assert say(client, "guardian", scene.child) == 302
    assert say(client, "guardian", scene.child, part="morning") == 400
    assert say(client, "guardian", scene.child, effort="easy") == 302
    assert [row.effort for row in OtherSport.objects.all()] == ["easy"]


def test_only_of_oneself_or_of_the_own_child(scene: Scene, signed_in: SignIn) -> None:
    unverified = make_guardian(scene.child, "Uwe", authority="unverified")
    for who, role, athlete in (
        (scene.athlete, "athlete", scene.child),
        (scene.guardian, "guardian", scene.adult_athlete),
        (scene.guardian, "guardian", scene.stranger_athlete),
        (scene.care_guardian, "guardian", scene.athlete),
        (unverified, "guardian", scene.child),
        (scene.stranger_athlete, "athlete", scene.athlete),
        (scene.coach, "athlete", scene.athlete),
        (scene.head_coach, "guardian", scene.athlete),
    ):
        client = signed_in(who)
        assert client.get(page_of(role, athlete)).status_code == 404, who
        assert say(client, role, athlete) == 404, who
    assert say(signed_in(scene.care_guardian), "guardian", scene.child) == 302
    row = OtherSport.objects.get()
    assert signed_in(scene.athlete).post(page_of("athlete", scene.athlete), {"back": str(row.pk)}).status_code == 302
    assert signed_in(scene.care_guardian).post(page_of("guardian", scene.child), {"back": "x"}).status_code == 404
    assert OtherSport.objects.count() == 1
    today = today_in(scene.club.timezone)
    Withholding.objects.create(
        club=scene.club, athlete=scene.child, guardian=scene.care_guardian, set_by=scene.welfare, first_day=today
    )
    assert signed_in(scene.care_guardian).get(page_of("guardian", scene.child)).status_code == 404


# What the planner is told


@pytest.fixture
def plan(db) -> PlanScene:
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    return made


def sport(plan: PlanScene, athlete: Person, day: int, **given: object) -> OtherSport:
    first: date = plan.monday + timedelta(days=day)
    usual = {
        "effort": "hard", "first_day": first, "last_day": first, "part": "evening", "starts": time(17),
        "ends": time(21), "minutes": 90,
    }  # fmt: skip
    return OtherSport.objects.create(
        club=plan.scene.club, athlete=athlete, said_by=athlete, said_as="athlete", said_at=plan.viewer.now,
        **usual | given,
    )  # fmt: skip


def fixed(plan: PlanScene) -> list[dict]:
    document = build_problem(viewer=plan.viewer, week=plan.week).document
    return [row for row in document["fixed"] if "-sport" in row["id"]]


def test_it_is_an_item_of_that_athlete_alone_where_the_word_may_be_used(plan: PlanScene) -> None:
    weekly = sport(plan, plan.scene.child, -5, last_day=plan.monday + timedelta(days=30))
    assert [row["start"][:10] for row in fixed(plan)] == [
        (plan.monday + timedelta(days=day)).isoformat() for day in (-5, 2, 9)
    ]
    row = fixed(plan)[1]
    assert row["id"] == f"{weekly.pk}-sport{plan.monday + timedelta(days=2):%Y%m%d}"
    assert (row["kind"], row["groups"], row["athletes"]) == ("hard", [], [str(plan.scene.child.pk)])
    assert (row["end"][11:16], row["load_min"]) == ("21:00", 90)
    Restriction.objects.create(
        club=plan.scene.club, athlete=plan.scene.child, purpose="availability", first_day=date(2020, 1, 1)
    )
    assert fixed(plan) == []


def test_the_week_says_why_and_a_move_by_hand_is_checked_against_it(plan: PlanScene, signed_in: SignIn) -> None:
    scene, head = plan.scene, signed_in(plan.scene.head_coach)
    base = f"/head-coach/week/{plan.monday:%G-W%V}"
    sport(plan, scene.child, 2)
    place(plan.demand("technique"), plan.at(3, 18), scene.coach, excused=(scene.child,))
    page = text(head.get(base))
    assert f"Stays away: {scene.child.full_name} (other sport Wed)" in page
    assert f"{scene.child.full_name} Wed 17:00–21:00, hard, about 90 min" in page
    head.post(
        f"{base}/sessions/{plan.demand('technique').pk}/easier/{scene.child.pk}",
        {"easier": "yes", "revision": plan.week.revision},
    )
    assert f"Easier version: {scene.child.full_name} (other sport Wed)" in text(head.get(base))
    given = {
        "revision": plan.week.revision, "day": (plan.monday + timedelta(days=3)).isoformat(), "starts": "19:00",
        "venue": str(scene.venue.pk), "coaches": [str(scene.coach.pk)],
    }  # fmt: skip
    refused = head.post(f"{base}/sessions/{plan.demand('hard').pk}", given)
    assert refused.status_code == 400
    assert f"({scene.child.full_name}), because of other sport Wed." in text(refused)


@pytest.mark.parametrize(("style", "own"), [("gentler", {}), ("own", {"separation_h": {"hard": {"technique": 42}}})])
def test_why_somebody_stays_away_follows_the_rules_in_force(
    plan: PlanScene, signed_in: SignIn, style: str, own: dict[str, object]
) -> None:
    """Hard until 21:00 on Sunday, technique at 13:00 on Tuesday: 40 h, enough by the usual 34 h of the planning
    contract, not by 34 h x 1.25 = 42.5 h nor by the phase's own 42 h."""
    scene, head = plan.scene, signed_in(plan.scene.head_coach)
    sport(plan, scene.child, -1)
    place(plan.demand("technique"), plan.at(1, 13), scene.coach, excused=(scene.child,))
    base = f"/head-coach/week/{plan.monday:%G-W%V}"
    assert f"Stays away: {scene.child.full_name} (" not in text(head.get(base))
    PhasePolicy.objects.create(club=scene.club, phase=plan.phase, group=scene.group, style=style, policy=own)
    assert f"Stays away: {scene.child.full_name} (other sport Sun)" in text(head.get(base))


def test_it_is_told_to_nobody_who_may_not_know(plan: PlanScene, signed_in: SignIn) -> None:
    scene = plan.scene
    sport(plan, scene.child, 2)
    place(plan.demand("technique"), plan.at(3, 18), scene.coach, excused=(scene.child,))
    week = f"{plan.monday:%G-W%V}"
    Restriction.objects.create(club=scene.club, athlete=scene.child, purpose="availability", first_day=date(2020, 1, 1))
    assert "other sport" not in text(signed_in(scene.head_coach).get(f"/head-coach/week/{week}")).lower()
    for who in (scene.other_coach, scene.stranger):
        assert "other sport" not in text(signed_in(who).get(f"/coach/week/{week}")).lower()


def test_a_week_with_another_sport_is_proposed(signed_in: SignIn) -> None:
    """An item that is nobody's session of the club neither stops the planner nor is offered to move."""
    plan = make_plan_scene()
    make_week(viewer=plan.viewer, monday=plan.monday)
    day = plan.monday + timedelta(days=3)
    assert say(signed_in(plan.scene.guardian), "guardian", plan.scene.child, day=day.isoformat()) == 302
    assert any("-sport" in row["id"] for row in build_problem(viewer=plan.viewer, week=plan.week).document["fixed"])
    assert ready(plan).plan["placed"]
