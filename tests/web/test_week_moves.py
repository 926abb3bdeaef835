"""The Week page's quick questions and quick mending: what a move breaks, who changed what, mend, apply, paper, undo."""

import re
from datetime import time, timedelta

import pytest
from django.test import Client

from sessions.core.planner.changes import changed
from sessions.models import (
    Availability,
    CoachAbsence,
    Demand,
    Notice,
    Placement,
    Proposal,
    SessionAthlete,
    TrainingSession,
    Venue,
    VenueClosing,
    WeekPlan,
)
from sessions.selectors.planning_problem import build_problem
from sessions.services.give_session import give_session
from sessions.services.make_week import make_week
from sessions.services.publish_week import publish_week
from tests.people import make_athlete, make_session
from tests.planning import PlanScene, make_placed_week, place
from tests.web.test_week_page import address, ready, text

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(db) -> PlanScene:
    """Hard Tue, technique Thu, easy Sat at 18:00, not published."""
    return make_placed_week()


@pytest.fixture
def head(plan, signed_in) -> Client:
    return signed_in(plan.scene.head_coach)


def checked(plan: PlanScene, head: Client, kind: str, day: int, starts: str):
    where = address(plan, "sessions", plan.demand(kind).pk, "check")
    return head.get(where, {"day": plan.monday + timedelta(days=day), "starts": starts})


def test_a_move_is_tried_by_the_planners_rules_and_nothing_is_saved(plan, head):
    """Technique on Wednesday lies 23 h after Tuesday's hard session: 34 are wanted (contract, default separations)."""
    broken = text(checked(plan, head, "technique", 2, "18:00"))
    for person in (plan.scene.athlete, plan.scene.child, plan.scene.adult_athlete):
        assert person.full_name in broken
    assert "too few hours after the session before" in broken
    kept = checked(plan, head, "technique", 3, "19:00")
    assert "It keeps every rule" in text(kept)
    assert 'name="starts" value="19:00"' in kept.content.decode()
    assert "full quarters" in text(checked(plan, head, "technique", 3, "19:05"))
    assert (plan.week.revision, Placement.objects.get(demand__kind="technique").starts_at) == (1, plan.at(3, 18))


def test_excusing_is_offered_only_where_it_mends_the_move(plan, head):
    """One of three may be excused (a third, contract); the coach comes at 17:00."""
    tam = plan.scene.adult_athlete
    Availability.objects.create(
        club=plan.scene.club, athlete=tam, starts_at=plan.at(4, 17), ends_at=plan.at(4, 18, 30), state="not_today",
        said_by=tam, said_as="athlete", said_at=plan.viewer.now,
    )  # fmt: skip
    for day, starts, can in ((4, "18:00", True), (4, "16:30", False), (2, "18:00", False)):
        told = text(checked(plan, head, "technique", day, starts))
        assert "It would break:" in told
        assert ("excuse those who cannot come" in told) is can, (day, starts)
    assert "because of Sprint technique Wed." in text(checked(plan, head, "technique", 2, "18:00"))


@pytest.mark.parametrize("query", [{}, {"day": "2001-01-01", "starts": "18:00"}, {"day": "x", "starts": "y"}])
def test_a_place_that_is_none_is_told(plan, head, query):
    answer = head.get(address(plan, "sessions", plan.demand("easy").pk, "check"), query)
    assert (answer.status_code, "not in this week" in text(answer)) == (400, True)


def test_the_page_of_another_shows_what_changed(plan, head):
    assert head.get(address(plan, "since", 1)).status_code == 204
    head.post(address(plan, "sessions", plan.demand("easy").pk, "take-out"), {"revision": 1})
    changed = text(head.get(address(plan, "since", 1)))
    assert f"{plan.scene.head_coach.full_name} changed this week at" in changed
    assert "Sprint easy: taken out" in changed


def test_a_closed_venue_is_mended_in_three_actions(plan, head):
    """Mark it, look at the moves, take over and publish: everybody whom it concerns is told."""
    publish_week(viewer=plan.viewer, monday=plan.monday, revision=1)
    venue, day = plan.scene.venue, plan.monday + timedelta(days=1)
    page = head.get(address(plan, "mend"))
    assert f"/mend/venues/{venue.pk}" in page.content.decode()
    head.post(address(plan, "mend/venues", venue.pk), {"day": day})
    head.post(address(plan, "mend/venues", venue.pk), {"day": day})
    assert VenueClosing.objects.filter(venue=venue).count() == 1
    proposal = ready(plan)
    assert "Accept all and publish" in text(head.get(address(plan)))
    offered = re.search(r": (\d+) people", text(head.get(address(plan, "reach-all"))))
    before = set(Notice.objects.values_list("pk", flat=True))
    head.post(address(plan, "proposals", proposal.pk, "publish"), {"revision": 1})
    told = Notice.objects.exclude(pk__in=before).values("to").distinct().count()
    assert told == int(offered[1]) > 0
    hard = TrainingSession.objects.get(demand=plan.demand("hard"))
    assert hard.starts_at.astimezone(plan.zone).date() != day
    assert "closed, take back" in text(head.get(address(plan, "mend")))
    head.post(address(plan, "mend/venues", venue.pk), {"day": day, "open": "yes"})
    assert not VenueClosing.objects.exists()


def test_a_sick_coach_is_marked_and_taken_back_without_a_reason(plan, head):
    coach, day = plan.scene.coach, plan.monday + timedelta(days=3)
    where = address(plan, "mend/coaches", coach.pk)
    head.post(where, {"day": day})
    row = CoachAbsence.objects.get(coach=coach)
    assert (row.starts_at, row.ends_at) == (plan.at(3, 0), plan.at(4, 0))
    head.post(where, {"day": day, "open": "yes"})
    assert not CoachAbsence.objects.exists()
    for data in ({}, {"day": "2001-01-01"}, {"day": "2027-13-01"}):
        assert head.post(where, data).status_code == 404
    stranger = address(plan, "mend/coaches", plan.scene.stranger.pk)
    assert head.post(stranger, {"day": day}).status_code == 404
    assert head.post(address(plan, "mend/coaches", plan.scene.athlete.pk), {"day": day}).status_code == 404


def test_the_reason_that_no_venue_is_open_says_that_it_is_dark(plan, head):
    """In the first hours after midnight it is dark at 51 degrees north the whole year."""
    proposal, easy = ready(plan), str(plan.demand("easy").pk)
    solution = proposal.plan
    solution["placed"] = [row for row in solution["placed"] if row["demand"] != easy]
    because = [{"rule": "window", "items": [], "starts_blocked": 5, "text": "5 starts on Friday: no venue is open."}]
    solution["unplaced"] = [{"demand": easy, "because": because, "would_fit_if": []}]
    Proposal.objects.filter(pk=proposal.pk).update(plan=solution)
    assert "no lights" not in text(head.get(address(plan)))
    plan.scene.venue.openings.update(starts=time(0, 30), ends=time(2, 30))
    Venue.objects.filter(pk=plan.scene.venue.pk).update(has_lights=False, latitude=51.50853, longitude=-0.12574)
    page = text(head.get(address(plan)))
    assert "5 starts on Friday: no venue is open. Straight A has no lights: dark until 0" in page
    tried = text(checked(plan, head, "easy", 4, "01:00"))
    assert re.search(r"or without light, .* Straight A has no lights: dark until 0\d:\d\d on Fri\.", tried)


def test_a_coach_who_gives_an_evening_up_stands_on_today_and_leads_to_mending(plan, head, signed_in):
    publish_week(viewer=plan.viewer, monday=plan.monday, revision=1)
    rona, day = plan.scene.coach, plan.monday + timedelta(days=3)
    place(Demand.objects.create(
        club=plan.scene.club, week=plan.week, group=plan.scene.group, kind="moderate", duration_min=45, order=9
    ), plan.at(3, 20), rona, venue=plan.scene.venue)  # fmt: skip
    extra = make_session(plan.scene.group, kind="easy", day=plan.monday, starts=time(9), coaches=(rona,))
    said = {"away": "1", "first_day": f"{day}", "last_day": f"{day}"}
    own = signed_in(rona)
    assert "the head coach sees it on Today" in text(own.get("/coach/evenings"))
    assert "cannot come" not in text(head.get("/today"))
    own.post("/coach/evenings", said | {"first_day": f"{plan.monday}", "last_day": f"{plan.monday}"})
    own.post("/coach/evenings", said)
    page = head.get("/today")
    assert f"{rona.full_name} cannot come on {day:%a} {day.day} {day:%b}" in text(page)
    assert "Sprint technique, 18:00" in text(page) and "Sprint moderate, 20:00" in text(page)
    assert f"/head-coach/sessions/{extra.pk}/cover" in page.content.decode()
    assert "cannot come" not in text(own.get("/today"))
    [mend] = re.findall(r'href="([^"]+/mend[^"]+)"', page.content.decode())
    marked = head.get(mend.replace("&amp;", "&"))
    assert f"{rona.full_name} cannot come on {day:%A} {day.day}" in text(marked)
    assert "Look for the fewest moves" not in text(head.get(address(plan, "mend")))
    assert head.post(address(plan, "propose")).status_code == 302
    Placement.objects.filter(demand__kind="moderate").delete()
    session = TrainingSession.objects.get(demand__kind="technique")
    give_session(viewer=plan.viewer, session_id=session.pk, from_id=rona.pk, to_id=plan.scene.second_coach.pk)
    assert "Sprint technique, 18:00" not in text(head.get("/today"))


CHANGES = {
    "set_demand": lambda plan, one: {"set_demand": {"id": one, "field": "duration_min", "to": 45}},
    "add_available": lambda plan, one: {"add_available": {"coach": str(plan.scene.coach.pk), **span(plan, 4)}},
    "add_open": lambda plan, one: {"add_open": {"venue": str(plan.scene.venue.pk), **span(plan, 4)}},
    "add_window": lambda plan, one: {"add_window": {"demand": one, **span(plan, 4)}},
    "set_policy": lambda plan, one: {"set_policy": {"path": "separation_h.hard.technique", "to": 30}},
}


def span(plan: PlanScene, day: int) -> dict[str, str]:
    return {"start": plan.at(day, 9).isoformat(), "end": plan.at(day, 11).isoformat()}


@pytest.mark.parametrize("verb", CHANGES)
def test_a_change_that_would_give_a_place_is_made_in_one_tap(plan, head, verb):
    """What the problem says after it is what the planner tried: nine to eleven on Friday, 45 minutes, 30 hours."""
    VenueClosing.objects.create(
        club=plan.scene.club, venue=plan.scene.venue, starts_at=plan.at(4, 0), ends_at=plan.at(5, 0)
    )
    proposal, easy = ready(plan), str(plan.demand("easy").pk)
    solution = proposal.plan
    solution["placed"] = [row for row in solution["placed"] if row["demand"] != easy]
    change = CHANGES[verb](plan, easy)
    solution["unplaced"] = [{"demand": easy, "because": [], "would_fit_if": [{"change": change, "text": "It fits."}]}]
    Proposal.objects.filter(pk=proposal.pk).update(plan=solution)
    assert f'value="{easy}:0"' in head.get(address(plan)).content.decode()
    where = address(plan, "proposals", proposal.pk, "apply")
    assert head.post(where, {"change": f"{easy}:1"}).status_code == 404
    assert head.post(where, {"change": "nonsense"}).status_code == 404
    assert head.post(where, {"change": f"{easy}:0"}).status_code == 302
    document = ready(plan).problem
    wanted = span(plan, 4)
    if verb == "set_demand":
        assert Demand.objects.get(pk=easy).duration_min == 45
    elif verb == "set_policy":
        assert all(row["policy"]["separation_h"]["hard"]["technique"] == 30 for row in document["groups"])
    else:
        rows, name = {
            "add_available": (document["coaches"], "available"), "add_open": (document["venues"], "open"),
            "add_window": (document["demands"], "windows"),
        }[verb]  # fmt: skip
        spans = [one for row in rows for one in row[name]]
        assert any(one["start"][:16] == wanted["start"][:16] and one["end"][:16] == wanted["end"][:16] for one in spans)


@pytest.mark.parametrize("verb", ["move_fixed", "drop_fixed"])
def test_a_published_session_makes_room_as_the_planner_tried_it_and_comes_back(plan, head, verb):
    """The problem after it is the one that the planner solved for its offer: the session of next week's plan lies an
    hour later, or is not there; taken back, it is the problem as before, and nobody is told."""
    following = plan.monday + timedelta(days=7)
    make_week(viewer=plan.viewer, monday=following)
    other = Demand.objects.get(week__monday=following, kind="hard")
    place(other, plan.at(7, 18), plan.scene.coach)
    publish_week(viewer=plan.viewer, monday=following, revision=1)
    published = TrainingSession.objects.get(demand=other)
    Notice.objects.update(seen_at=plan.viewer.now)
    proposal, easy = ready(plan), str(plan.demand("easy").pk)
    later = plan.at(7, 19).isoformat(timespec="minutes")
    change = (
        {"move_fixed": {"id": str(published.pk), "start": later}} if verb == "move_fixed" else {verb: str(published.pk)}
    )
    solution = proposal.plan
    solution["unplaced"] = [{"demand": easy, "because": [], "would_fit_if": [{"change": change, "text": "It fits."}]}]
    Proposal.objects.filter(pk=proposal.pk).update(plan=solution)
    assert head.post(address(plan, "proposals", proposal.pk, "apply"), {"change": f"{easy}:0"}).status_code == 302
    assert build_problem(viewer=plan.viewer, week=plan.week).document == changed(proposal.problem, change)
    kind = "moved" if verb == "move_fixed" else "called_off"
    told = Notice.objects.filter(training_session=published, kind=kind, seen_at=None)
    assert {row.to.given_name for row in told} == {"Noela", "Ivo", "Tam", "Greta", "Carla", "Rona"}
    week = WeekPlan.objects.get(monday=following)
    assert (week.revision, week.published_revision) == (2, 2)
    page = head.get(address(plan)).content.decode()
    action, fields = re.search(r'data-undo.*?<form method="post" action="([^"]+)">(.*?)</form>', page, re.S).groups()
    undo = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', fields))
    assert head.post(action, undo).status_code == 302
    assert build_problem(viewer=plan.viewer, week=plan.week).document == proposal.problem
    assert not told.all().exists()
    lies = Placement.objects.get(demand=other)
    assert (lies.starts_at, TrainingSession.objects.get(demand=other).starts_at) == (plan.at(7, 18), plan.at(7, 18))
    assert head.post(action, undo).status_code == 400, "once alone"


def test_a_published_session_is_not_moved_to_where_it_cannot_be(plan, head):
    """Its own venue, which opens at 16:00, its coach, who comes at 17:00, and another session that the coach leads; the
    contract's `move_fixed` asks for none of it."""
    following = plan.monday + timedelta(days=7)
    make_week(viewer=plan.viewer, monday=following)
    for kind, hour in (("hard", 18), ("technique", 19)):
        demand = Demand.objects.get(week__monday=following, kind=kind)
        place(demand, plan.at(7 if kind == "hard" else 9, hour), plan.scene.coach)
    publish_week(viewer=plan.viewer, monday=following, revision=1)
    published = TrainingSession.objects.get(demand__week__monday=following, kind="hard")
    proposal, easy = ready(plan), str(plan.demand("easy").pk)
    for day, hour, minute in ((7, 15, 30), (7, 16, 30), (7, 20, 30), (9, 18, 30), (9, 19, 45)):
        change = {"move_fixed": {"id": str(published.pk), "start": plan.at(day, hour, minute).isoformat()}}
        rows = [{"demand": easy, "because": [], "would_fit_if": [{"change": change, "text": "It fits."}]}]
        Proposal.objects.filter(pk=proposal.pk).update(plan=proposal.plan | {"unplaced": rows})
        answer = head.post(address(plan, "proposals", proposal.pk, "apply"), {"change": f"{easy}:0"})
        assert (answer.status_code, "It can no longer begin then" in text(answer)) == (400, True), (day, hour, minute)
    assert TrainingSession.objects.get(pk=published.pk).starts_at == plan.at(7, 18)


def test_who_stays_away_may_come_to_an_easier_version_and_is_told(plan, head):
    tam = plan.scene.adult_athlete
    Placement.objects.get(demand__kind="technique").excused.add(tam)
    technique = plan.demand("technique").pk
    where = address(plan, "sessions", technique, "easier", tam.pk)
    assert head.post(where, {"revision": 7, "easier": "yes"}).status_code == 409
    assert head.post(where, {"revision": 1, "easier": "yes"}).status_code == 302
    assert f"Easier version: {tam.full_name}" in text(head.get(address(plan)))
    other = address(plan, "sessions", technique, "easier", plan.scene.athlete.pk)
    assert head.post(other, {"revision": 2, "easier": "yes"}).status_code == 404
    head.post(address(plan, "publish"), {"revision": 2})
    row = SessionAthlete.objects.get(athlete=tam, training_session__demand=technique)
    assert (row.comes, Notice.objects.get(to=tam, training_session=row.training_session).kind) == ("easier", "easier")
    assert publish_week(viewer=plan.viewer, monday=plan.monday, revision=2).sessions == 0
    head.post(where, {"revision": 2, "easier": "no"})
    assert "The draft says: stays away." in text(head.get(address(plan)))
    assert f"stays away: {tam.full_name}" in text(head.get(address(plan, "publish")))
    head.post(address(plan, "publish"), {"revision": 3})
    row.refresh_from_db()
    assert (row.comes, Notice.objects.filter(to=tam, training_session=row.training_session).count()) == ("away", 2)


def test_a_publishing_is_undone_from_its_offer_and_from_the_history(plan, head):
    head.post(address(plan, "publish"), {"revision": 1})
    page = head.get(address(plan)).content.decode()
    undo = re.findall(r'action="([^"]+/publishings/[^"]+/undo)"', page)
    assert len(undo) == 2
    assert head.post(undo[0]).status_code == 302
    assert (TrainingSession.objects.filter(demand__week=plan.week).exists(), Notice.objects.count()) == (False, 0)
    assert head.post(undo[0]).status_code == 400


def test_paper_has_a_page_a_group_and_the_coaches_rota_and_no_athlete(plan, head, signed_in):
    publish_week(viewer=plan.viewer, monday=plan.monday, revision=1)
    make_athlete(plan.scene.club, "Unseen", plan.scene.group)
    for client, role in ((head, "head-coach"), (signed_in(plan.scene.coach), "coach")):
        page = client.get(f"/{role}/week/{plan.monday:%G-W%V}/print")
        assert page.content.decode().count('class="week-sheet"') == 2
        assert "18:00–19:00" in text(page) and "Destroy after" in text(page)
        for person in (plan.scene.athlete, plan.scene.child, plan.scene.adult_athlete):
            assert person.given_name not in text(page)
