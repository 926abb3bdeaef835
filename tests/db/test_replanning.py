"""Mending a week: a flooded venue, a sick coach, a moved meet, an absent athlete; the least change, by the same rules
as a hand's move."""

from dataclasses import replace
from datetime import time, timedelta

import pytest

from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import broken_rules
from sessions.core.planner.solve import solve_document
from sessions.core.week_changes import places_of_plan
from sessions.models import Availability, CoachAbsence, CoachEvening, TrainingSession, VenueClosing
from sessions.selectors.planning_problem import build_problem
from sessions.selectors.week_draft import demands_of, draft_places
from sessions.services.draft_rules import DraftRules
from sessions.services.move_demand import move_demand
from sessions.services.propose_week import propose_week
from sessions.services.solve_proposal import solve_proposal
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Refused
from teamtrack.common.models import Job
from tests.entries import make_entry
from tests.people import make_athlete, make_session, make_venue
from tests.planning import PlanScene, make_placed_week, open_venue

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(db) -> PlanScene:
    """Next week as a draft: hard on Tuesday, technique on Thursday, easy on Saturday, all with Rona at Straight A."""
    return make_placed_week()


def mended(plan: PlanScene) -> tuple[dict, dict]:
    """The plan for the week as it stands now, proved, and by kind (start, venue, coaches) of each session."""
    document = build_problem(viewer=plan.viewer, week=plan.week).document
    found = solve_document(document, seconds=10, workers=1)
    assert found["status"] == "optimal"
    kinds = {str(demand.pk): demand.kind for demand in demands_of(plan.week)}
    places = {kinds[key]: place for key, place in places_of_plan(found).items()}
    problem = read_problem(document)
    assert broken_rules(problem, [one.as_placement(key) for key, one in places_of_plan(found).items()]) == []
    return found, places


def untouched(plan: PlanScene, places: dict, *kinds: str) -> bool:
    draft = draft_places(demands_of(plan.week))
    before = {kind: draft[str(plan.demand(kind).pk)] for kind in kinds}
    return all(
        (places[kind].starts_at, places[kind].venue, places[kind].coaches)
        == (before[kind].starts_at, before[kind].venue, before[kind].coaches)
        for kind in kinds
    )


def test_a_week_that_nothing_disturbs_stays_as_it_is(plan):
    found, places = mended(plan)
    assert (found["score"]["moved"], found["score"]["coach_changed"]) == (0, 0)
    assert untouched(plan, places, "hard", "technique", "easy")


def test_a_flooded_venue_moves_its_day_alone(plan):
    """Straight A is shut on Thursday, another ground is open: the technique goes there, on its own day."""
    other = make_venue(plan.scene.club, "North ground")
    open_venue(other)
    plan.demand("technique").venues.add(other)
    VenueClosing.objects.create(
        club=plan.scene.club, venue=plan.scene.venue, starts_at=plan.at(3, 0), ends_at=plan.at(4, 0), reason="water"
    )
    found, places = mended(plan)
    day = places["technique"].starts_at.astimezone(plan.zone).date()
    assert (day, places["technique"].venue) == (plan.at(3, 18).date(), str(other.pk))
    assert (found["score"]["moved"], found["score"]["coach_changed"]) == (1, 0)
    assert untouched(plan, places, "hard", "easy")


def test_a_flooded_venue_without_another_moves_to_another_fresh_day(plan):
    VenueClosing.objects.create(
        club=plan.scene.club, venue=plan.scene.venue, starts_at=plan.at(3, 0), ends_at=plan.at(4, 0), reason="water"
    )
    found, places = mended(plan)
    assert found["unplaced"] == []
    assert places["technique"].starts_at.date() != plan.at(3, 18).date()
    after, before = (places[kind] for kind in ("technique", "hard"))
    assert after.starts_at - before.ends_at >= timedelta(hours=34) or before.starts_at > after.ends_at
    assert untouched(plan, places, "hard", "easy")


@pytest.mark.parametrize("how", ["absence", "evening"])
def test_a_sick_coach_gives_the_session_to_another_at_the_same_hour(plan, how):
    """Rona says she is away on Thursday, or takes that evening back."""
    rona = plan.scene.coach
    if how == "absence":
        CoachAbsence.objects.create(club=plan.scene.club, coach=rona, starts_at=plan.at(3, 0), ends_at=plan.at(4, 0))
    else:
        CoachEvening.objects.filter(coach=rona, weekday=4).delete()
    found, places = mended(plan)
    assert (places["technique"].starts_at, places["technique"].coaches) == (
        plan.at(3, 18),
        (str(plan.scene.second_coach.pk),),
    )
    assert (found["score"]["moved"], found["score"]["coach_changed"]) == (0, 1)
    assert untouched(plan, places, "hard", "easy")


def test_a_moved_meet_moves_what_now_stands_too_near(plan):
    """From the Sunday after, where it disturbs nothing, to Thursday morning: that evening's technique gives way."""
    meet = make_session(plan.scene.group, kind="meet", day=plan.monday + timedelta(days=7), starts=time(10))
    before, _ = mended(plan)
    assert before["score"]["moved"] == 0
    TrainingSession.objects.filter(pk=meet.pk).update(starts_at=plan.at(3, 10), ends_at=plan.at(3, 12))
    after, places = mended(plan)
    meets_end, technique = plan.at(3, 12), places["technique"]
    assert after["unplaced"] == []
    assert technique.starts_at >= meets_end + timedelta(hours=34) or technique.ends_at <= plan.at(3, 10) - timedelta(
        hours=24
    )
    assert after["score"]["moved"] >= 1


def say_out(plan: PlanScene, first_day: int, last_day: int) -> str:
    """Noela says that she does not come from one day of the week to another; her id."""
    athlete = plan.scene.athlete
    Availability.objects.create(
        club=plan.scene.club, athlete=athlete, state=Availability.State.NOT_TODAY, said_by=athlete,
        said_as="athlete", said_at=utc_now(), starts_at=plan.at(first_day, 0), ends_at=plan.at(last_day + 1, 0),
    )  # fmt: skip
    return str(athlete.pk)


def test_an_athlete_who_is_out_all_week_is_away_and_nothing_moves(plan):
    noela = say_out(plan, 0, 6)
    found, places = mended(plan)
    assert untouched(plan, places, "hard", "technique", "easy")
    assert all(place.away == {noela} and not place.excused for place in places.values())
    assert found["score"]["moved"] == 0


def test_an_athlete_who_is_out_on_one_day_costs_no_more_than_to_leave_all_as_it_is(plan):
    """Out on Thursday: Noela is at no session of that day, and the answer is as cheap as excusing her, or cheaper."""
    noela = say_out(plan, 3, 3)
    found, places = mended(plan)
    stays_at = 200 + 5 * 3
    """One excusal, and one coach who leads three: the planning contract's weights."""
    assert found["objective"] <= stays_at
    on_thursday = [one for one in places.values() if one.starts_at.astimezone(plan.zone).date() == plan.at(3, 0).date()]
    assert all(noela in one.absent for one in on_thursday)
    assert untouched(plan, places, "hard", "easy")


def test_a_running_week_offers_nothing_that_is_over(plan, settings):
    """On Thursday the planner, which knows no clock, offers Monday and Friday: Friday alone is handed on."""
    proposal = propose_week(viewer=plan.viewer, monday=plan.monday)
    settings.CLUB_DAY_SHIFT = (plan.monday - plan.viewer.today).days + 3
    coach = str(plan.scene.coach.pk)

    def offered(day: int) -> dict:
        span = {"start": plan.at(day, 22).isoformat(timespec="minutes"), "end": plan.at(day, 23).isoformat()}
        return {"change": {"add_available": {"coach": coach, **span}}, "text": "…"}

    def solve(document, **options):
        rows = [
            {"demand": one["id"], "because": [], "would_fit_if": [offered(0), offered(4)]}
            for one in document["demands"]
        ]
        return {"status": "optimal", "objective": 0, "bound": 0, "seconds": 0.1, "placed": [], "unplaced": rows}

    solve_proposal(job_id=Job.objects.get(target_id=proposal.pk).pk, solve=solve)
    proposal.refresh_from_db()
    assert proposal.state == "ready"
    assert [row["would_fit_if"] for row in proposal.plan["unplaced"]] == [[offered(4)]] * len(proposal.plan["unplaced"])
    assert proposal.plan["unplaced"]


# A hand's move


def test_a_hands_move_is_checked_by_the_function_that_checks_the_planner(plan):
    """Every place of a day for the technique: refused by hand just where the planner's rules find something new."""
    key = str(plan.demand("technique").pk)
    draft = draft_places(demands_of(plan.week))
    problem = read_problem(build_problem(viewer=plan.viewer, week=plan.week).document)
    for day in (0, 1, 2, 4, 6):
        moved = dict(draft)
        length = draft[key].ends_at - draft[key].starts_at
        starts = plan.at(day, 18)
        moved[key] = type(draft[key])(starts, starts + length, draft[key].venue, draft[key].coaches)
        broken = broken_rules(problem, [one.as_placement(demand) for demand, one in moved.items()])
        rules = DraftRules(viewer=plan.viewer, week=plan.week)
        assert rules.broken(moved) == broken
        without = {demand: one for demand, one in draft.items() if demand != key}
        if broken:
            with pytest.raises(Refused):
                rules.refuse_new(before=without, after=moved)
        else:
            rules.refuse_new(before=without, after=moved)


def test_a_move_too_near_to_what_one_athlete_alone_reported_as_hard_is_refused_in_words(plan):
    """Monday's easy session was hard for one of six: Tuesday's technique, 25 h after it, is refused with the session's
    name; without that report the same move is allowed."""
    scene = plan.scene
    runners = [make_athlete(scene.club, f"Tor{number}", scene.group, age=16) for number in range(5)]
    session = make_session(scene.group, kind="easy", day=plan.monday, starts=time(16), athletes=tuple(runners))
    log = make_entry(session, "day", runners[0], runners[0], rpe=9)
    plan.demand("hard").placement.delete()
    on_tuesday = replace(plan.viewer, now=plan.at(1, 9))

    def move():
        return move_demand(
            viewer=on_tuesday, monday=plan.monday, demand_id=plan.demand("technique").pk,
            revision=plan.week.revision, starts_at=plan.at(1, 18), venue_id=scene.venue.pk,
            coach_ids=[scene.coach.pk],
        )  # fmt: skip

    with pytest.raises(Refused) as refused:
        move()
    assert refused.value.code == "RULES_BROKEN"
    [sentence] = refused.value.fields["rules"]
    assert "Tor0" in sentence
    assert str(session.pk) not in sentence
    make_entry(session, "day", runners[0], runners[0], replaces=log, rpe=3)
    move()
