"""The rehearsal of a season from its rows: planted weeks that cannot hold, the work of it, and who may ask."""

from datetime import date, datetime, time, timedelta
from functools import partial
from time import sleep

import pytest

from athletes.models import AccessLogEntry, Squad, SquadMembership, StaffRole
from athletes.viewer import viewer_for
from sessions.core.planner.solve import solve_document
from sessions.core.rehearsal import all_placed
from sessions.models import (
    CoachAbsence,
    Demand,
    DraftStep,
    GroupSettings,
    PatternItem,
    Placement,
    Proposal,
    Rehearsal,
    SeasonPlan,
    TrainingSession,
    VenueClosing,
    WeekModifier,
    WeekPlan,
)
from sessions.selectors.proposals import Trouble
from sessions.selectors.rehearsals import latest_rehearsal, weeks_to_rehearse
from sessions.services.make_week import make_week
from sessions.services.propose_week import propose_week
from sessions.services.rehearse_season import TASK, rehearse_season, stop_rehearsal
from sessions.services.solve_rehearsal import solve_rehearsal
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.jobs import MOST_ATTEMPTS, claim_job, sweep_jobs
from teamtrack.common.models import Job
from tests.people import make_session
from tests.planning import PlanScene, make_plan_scene
from tests.workers import celery_worker, in_threads

pytestmark = pytest.mark.django_db
committed = pytest.mark.django_db(transaction=True)
solve = partial(solve_document, seconds=5.0, workers=1, seed=1)
holds = partial(all_placed, seconds=8.0, workers=1, seed=1)
WEEKS = 8
DARK_FROM = 6
"""The number, from 0, of the first week after summer time ends."""


def monday_after_summer_time(year: int) -> date:
    """The day after the last Sunday of October (Directive 2000/84/EC)."""
    last = date(year, 10, 31)
    return last - timedelta(days=(last.weekday() + 1) % 7) + timedelta(days=1)


@pytest.fixture
def plan(db) -> PlanScene:
    """A season of eight weeks over the end of summer time, a year ahead: the track has no lights and opens at four,
    the coaches come from five on, and a session takes an hour.

    Civil dusk in Dublin is about 18:43 before that Sunday and about 17:38 after it (almanac values, from memory).
    """
    made = make_plan_scene()
    made.season.first_monday = monday_after_summer_time(made.monday.year + 1) - timedelta(days=7 * DARK_FROM)
    made.season.weeks = WEEKS
    made.season.save()
    venue = made.scene.venue
    venue.latitude, venue.longitude, venue.has_lights = 53.35, -6.26, False
    venue.save()
    return made


def at(plan: PlanScene, week: int, day: int, hour: int) -> datetime:
    """An instant of a week of the season; week and day count from 0."""
    on = plan.season.first_monday + timedelta(days=7 * week + day)
    return datetime.combine(on, time(hour), plan.zone)


def monday(plan: PlanScene, week: int) -> str:
    return (plan.season.first_monday + timedelta(days=7 * week)).isoformat()


def whole(plan: PlanScene, week: int) -> dict[str, datetime]:
    return {"starts_at": at(plan, week, 0, 0), "ends_at": at(plan, week + 1, 0, 0)}


def shorten(plan: PlanScene, weeks: int) -> None:
    SeasonPlan.objects.filter(pk=plan.season.pk).update(weeks=weeks)
    plan.season.refresh_from_db()


def close(plan: PlanScene, week: int) -> None:
    VenueClosing.objects.create(club=plan.scene.club, venue=plan.scene.venue, **whole(plan, week))


def ask(plan: PlanScene) -> tuple[Rehearsal, Job]:
    rehearsal = rehearse_season(viewer=plan.viewer, season=plan.season)
    return rehearsal, Job.objects.get(target_id=rehearsal.pk)


def rehearsed(plan: PlanScene, **options) -> Rehearsal:
    rehearsal, job = ask(plan)
    assert solve_rehearsal(job_id=job.pk, **{"solve": solve, "holds": holds} | options) is True
    rehearsal.refresh_from_db()
    return rehearsal


def nothing_to_do(*_documents, **_options):
    """A planner that places everything at once."""
    return {"status": "optimal", "unplaced": []}


# What is planted is found


def plant(plan: PlanScene) -> None:
    """Week 0 holds; a closing, squads' exams, the club's exams (that holds), absent coaches, a meet; then dusk."""
    club, scene = plan.scene.club, plan.scene
    close(plan, 1)
    for person in (scene.athlete, scene.child):
        squad = Squad.objects.create(club=club, name=f"Year of {person.given_name}")
        SquadMembership.objects.create(club=club, athlete=person, squad=squad, first_day=date(2020, 1, 1))
        WeekModifier.objects.create(club=club, season=plan.season, week=3, reason="exam", squad=squad, most_sessions=1)
    WeekModifier.objects.create(club=club, season=plan.season, week=4, reason="exam", most_sessions=1)
    for coach in (scene.coach, scene.second_coach):
        CoachAbsence.objects.create(club=club, coach=coach, **whole(plan, 4))
    day = plan.season.first_monday + timedelta(days=35)
    make_session(scene.group, kind="meet", day=day, starts=time(8), minutes=6 * 24 * 60)


@committed
def test_every_planted_week_is_found_and_no_other_and_the_change_that_helps_most(plan):
    plant(plan)
    rows = (WeekPlan, Demand, DraftStep, Placement, TrainingSession, PatternItem)
    before = [model.objects.count() for model in rows]
    found = rehearsed(plan)
    assert (found.state, found.failure) == ("ready", "")
    assert [model.objects.count() for model in rows] == before
    weeks = {week["monday"]: week for week in found.result["weeks"]}
    assert list(weeks) == [monday(plan, number) for number in range(WEEKS)]
    cannot = [number for number in range(WEEKS) if weeks[monday(plan, number)]["verdict"] == "cannot"]
    assert cannot == [1, 2, 4, 5, 6, 7]
    assert [weeks[monday(plan, number)]["verdict"] for number in (0, 3)] == ["holds", "holds"]
    assert [len(weeks[monday(plan, number)]["lost"]) for number in range(WEEKS)] == [0, 3, 1, 0, 3, 3, 3, 3]
    assert weeks[monday(plan, 3)]["demands"] == 1
    for number, rule in ((1, "window"), (2, "minutes"), (4, "observers"), (5, "separation"), (6, "window")):
        told = [{reason["rule"] for reason in row["because"]} for row in weeks[monday(plan, number)]["lost"]]
        assert all(rule in rules for rules in told), (number, told)
    items = {str(item.pk) for item in PatternItem.objects.all()}
    assert all(row["pattern"] in items for week in weeks.values() for row in week["lost"])
    # a coach who comes at four helps while it is dark at five, and while both coaches are away
    change = found.result["help"]["change"]
    assert change["verb"] == "add_available"
    assert change["coach"] in {str(plan.scene.coach.pk), str(plan.scene.second_coach.pk)}
    assert [(row["weekday"], row["from"], row["until"]) for row in change["spans"]] == [
        (weekday, "16:00", "17:00") for weekday in range(1, 8)
    ]
    assert list(found.result["help"]["in_weeks"]) == [monday(plan, number) for number in (4, 6, 7)]


@committed
def test_lights_end_the_dusk(plan):
    plan.scene.venue.has_lights = True
    plan.scene.venue.save()
    found = rehearsed(plan)
    assert {week["verdict"] for week in found.result["weeks"]} == {"holds"}
    assert found.result["help"] is None


def test_a_week_that_was_made_has_its_own_demands(plan):
    shorten(plan, 2)
    made = make_week(viewer=plan.viewer, monday=plan.season.first_monday)
    made.demands.get(kind="easy").delete()
    own, pattern = weeks_to_rehearse(viewer=plan.viewer, season=plan.season)
    assert {row["id"] for row in own.document["demands"]} == {str(demand.pk) for demand in made.demands.all()}
    items = {str(item.pk) for item in PatternItem.objects.all()}
    assert set(own.patterns.values()) < items
    assert {row["id"] for row in pattern.document["demands"]} == items


def test_the_week_is_the_one_that_would_be_made(plan):
    """Before and after its demands have rows the documents differ in their keys alone."""
    shorten(plan, 1)
    [before] = weeks_to_rehearse(viewer=plan.viewer, season=plan.season)
    make_week(viewer=plan.viewer, monday=plan.season.first_monday)
    [after] = weeks_to_rehearse(viewer=plan.viewer, season=plan.season)
    renamed = [{**row, "id": after.patterns[row["id"]]} for row in after.document["demands"]]
    assert {**after.document, "demands": renamed} == before.document


def test_weeks_that_have_begun_and_weeks_of_another_season_are_not_rehearsed(plan):
    """The scene's own dates: two weeks are over, one runs; the last three belong to a later season."""
    SeasonPlan.objects.filter(pk=plan.season.pk).update(first_monday=plan.monday - timedelta(days=14), weeks=10)
    plan.season.refresh_from_db()
    begins = plan.monday + timedelta(days=35)
    SeasonPlan.objects.create(club=plan.scene.club, name="Summer", first_monday=begins, weeks=4)
    found = [week.monday for week in weeks_to_rehearse(viewer=plan.viewer, season=plan.season)]
    assert found == [(plan.monday + timedelta(days=7 * number)).isoformat() for number in range(5)]


def test_a_session_that_nobody_may_lead_is_told(plan):
    shorten(plan, 1)
    item = PatternItem.objects.get(kind="hard")
    item.coaches.set([plan.scene.helper])
    [week] = rehearsed(plan, solve=nothing_to_do).result["weeks"]
    assert week["verdict"] == "cannot"
    assert week["lost"] == [{"demand": str(item.pk), "pattern": str(item.pk), "left_out": "no_leader"}]


# Once


def test_the_same_request_twice_while_one_is_open_is_one_rehearsal(plan):
    first, job = ask(plan)
    assert rehearse_season(viewer=plan.viewer, season=plan.season).pk == first.pk
    assert (Rehearsal.objects.count(), Job.objects.count()) == (1, 1)
    solve_rehearsal(job_id=job.pk, solve=nothing_to_do, holds=holds)
    assert rehearse_season(viewer=plan.viewer, season=plan.season).pk != first.pk


@committed
def test_two_head_coaches_at_once_get_the_same_rehearsal(plan):
    viewer = plan.viewer
    results = in_threads(*[lambda: rehearse_season(viewer=viewer, season=plan.season).pk] * 4)
    assert len(set(results)) == 1
    assert Rehearsal.objects.count() == 1


@committed
def test_a_task_that_comes_twice_works_once(plan):
    shorten(plan, 2)
    _rehearsal, job = ask(plan)
    calls = []

    def counted(document, **_options):
        calls.append(document["horizon"]["first_day"])
        return nothing_to_do()

    results = in_threads(*[lambda: solve_rehearsal(job_id=job.pk, solve=counted, holds=holds)] * 3)
    assert sorted(results) == [False, False, True]
    assert solve_rehearsal(job_id=job.pk, solve=counted, holds=holds) is False
    assert calls == [monday(plan, 0), monday(plan, 1)]


# The work itself


@committed
def test_a_celery_worker_rehearses_what_was_asked_for(plan):
    shorten(plan, 1)
    with celery_worker(TASK):
        rehearsal, job = ask(plan)
        until = utc_now() + timedelta(seconds=40)
        while Rehearsal.objects.get(pk=rehearsal.pk).state in ("waiting", "running") and utc_now() < until:
            sleep(0.1)
    rehearsal.refresh_from_db()
    assert (rehearsal.state, [week["verdict"] for week in rehearsal.result["weeks"]]) == ("ready", ["holds"])
    assert Job.objects.get(pk=job.pk).state == "done"


@committed
def test_progress_is_written_and_stopping_keeps_what_was_found(plan):
    shorten(plan, 3)
    close(plan, 0)
    rehearsal, job = ask(plan)
    seen = []

    def watched(document, *, should_stop):
        seen.append(Rehearsal.objects.get(pk=rehearsal.pk).progress)
        if len(seen) == 2:
            stop_rehearsal(viewer=plan.viewer, rehearsal_id=rehearsal.pk)
        return solve(document)

    assert solve_rehearsal(job_id=job.pk, solve=watched, holds=holds) is True
    rehearsal.refresh_from_db()
    assert seen == [
        {"stage": "weeks", "done": 0, "of": 3, "cannot": 0},
        {"stage": "weeks", "done": 1, "of": 3, "cannot": 1},
    ]
    assert (rehearsal.state, rehearsal.result["is_whole"]) == ("stopped", False)
    assert [week["verdict"] for week in rehearsal.result["weeks"]] == ["cannot", "holds"]
    assert Job.objects.get(pk=job.pk).state == "done"


@committed
def test_a_proposal_that_waits_is_solved_between_two_weeks(plan):
    """The one worker is busy with the season: whoever waits for a week does not wait for all of it."""
    shorten(plan, 2)
    make_week(viewer=plan.viewer, monday=plan.season.first_monday)
    asked, states = [], []

    def busy(_document, **_options):
        states.append([Proposal.objects.get(pk=one.pk).state for one in asked])
        if not asked:
            asked.append(propose_week(viewer=plan.viewer, monday=plan.season.first_monday))
        return nothing_to_do()

    assert rehearsed(plan, solve=busy).state == "ready"
    assert states == [[], ["ready"]]
    assert set(Job.objects.values_list("state", flat=True)) == {"done"}


@committed
def test_a_proposal_that_fails_meanwhile_does_not_end_the_rehearsal(plan, monkeypatch):
    shorten(plan, 1)
    make_week(viewer=plan.viewer, monday=plan.season.first_monday)
    proposal = propose_week(viewer=plan.viewer, monday=plan.season.first_monday)
    monkeypatch.setattr("sessions.services.solve_proposal.build_problem", lambda **_options: 1 / 0)
    assert rehearsed(plan, solve=nothing_to_do).state == "ready"
    proposal.refresh_from_db()
    assert proposal.state == "failed"
    assert Job.objects.get(target_id=proposal.pk).state == "failed"


def test_what_is_stopped_before_it_begins_never_begins(plan):
    rehearsal, job = ask(plan)
    assert stop_rehearsal(viewer=plan.viewer, rehearsal_id=rehearsal.pk).state == "stopped"
    assert solve_rehearsal(job_id=job.pk, solve=lambda *a, **k: pytest.fail("it was stopped"), holds=holds) is True
    rehearsal.refresh_from_db()
    assert (rehearsal.state, rehearsal.result, Job.objects.get(pk=job.pk).state) == ("stopped", None, "done")


def lose(job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(lease_until=utc_now() - timedelta(seconds=1))


def test_a_lost_worker_leaves_it_to_the_next_and_writes_nothing_when_it_comes_back(plan):
    shorten(plan, 1)
    rehearsal, job = ask(plan)

    def overtaken(document, **_options):
        lose(job)
        latest = latest_rehearsal(viewer=plan.viewer, season=plan.season)
        assert (latest.trouble, latest.is_open) == (Trouble.WORKER_LOST, True)
        assert solve_rehearsal(job_id=job.pk, solve=nothing_to_do, holds=holds) is True
        return {"status": "optimal", "unplaced": [{"demand": "late", "because": [], "would_fit_if": []}]}

    assert solve_rehearsal(job_id=job.pk, solve=overtaken, holds=holds) is True
    rehearsal.refresh_from_db()
    assert (rehearsal.state, [week["lost"] for week in rehearsal.result["weeks"]]) == ("ready", [[]])
    assert Job.objects.get(pk=job.pk).attempts == 2


def test_after_three_lost_workers_it_is_given_up_and_can_be_asked_again(plan):
    rehearsal, job = ask(plan)
    for _number in range(MOST_ATTEMPTS):
        assert claim_job(job.pk) is not None
        lose(job)
    sweep_jobs(wake=lambda task, job_id: pytest.fail("given up means nobody is woken"))
    assert latest_rehearsal(viewer=plan.viewer, season=plan.season).trouble is Trouble.GIVEN_UP
    again = rehearse_season(viewer=plan.viewer, season=plan.season)
    rehearsal.refresh_from_db()
    assert (again.pk != rehearsal.pk, rehearsal.state) == (True, "failed")
    assert latest_rehearsal(viewer=plan.viewer, season=plan.season).rehearsal == again


def test_data_that_do_not_fit_together_are_named(plan):
    GroupSettings.objects.create(club=plan.scene.club, group=plan.scene.group, policy={"rest_days_per_week": 9})
    found = rehearsed(plan)
    assert (found.state, found.result) == ("failed", None)
    assert "rest_days_per_week" in found.failure


def test_an_error_nobody_foresaw_is_told_and_raised(plan):
    rehearsal, job = ask(plan)
    with pytest.raises(ZeroDivisionError):
        solve_rehearsal(job_id=job.pk, solve=lambda *a, **k: 1 / 0, holds=holds)
    rehearsal.refresh_from_db()
    assert (rehearsal.state, bool(rehearsal.failure), Job.objects.get(pk=job.pk).state) == ("failed", True, "failed")


def test_who_asked_and_is_no_head_coach_any_more_gets_nothing(plan):
    rehearsal, job = ask(plan)
    StaffRole.objects.filter(person=plan.scene.head_coach).delete()
    solve_rehearsal(job_id=job.pk, solve=nothing_to_do, holds=holds)
    rehearsal.refresh_from_db()
    assert (rehearsal.state, rehearsal.result) == ("failed", None)


# Who may, and what is left behind


@pytest.mark.parametrize("who", ["coach", "athlete", "guardian", "admin", "welfare"])
def test_others_find_no_season(plan, who):
    viewer = viewer_for(getattr(plan.scene, who), who)
    rehearsal, _job = ask(plan)
    for call in (
        lambda: rehearse_season(viewer=viewer, season=plan.season),
        lambda: stop_rehearsal(viewer=viewer, rehearsal_id=rehearsal.pk),
        lambda: latest_rehearsal(viewer=viewer, season=plan.season),
    ):
        with pytest.raises(NotFound):
            call()
    rehearsal.refresh_from_db()
    assert (Rehearsal.objects.count(), rehearsal.stop_wanted) == (1, False)


def test_a_season_of_another_club_is_not_there(plan):
    club = plan.scene.stranger_club
    theirs = SeasonPlan.objects.create(club=club, name="Theirs", first_monday=plan.season.first_monday, weeks=4)
    with pytest.raises(NotFound):
        rehearse_season(viewer=plan.viewer, season=theirs)


def test_a_season_without_a_pattern_is_refused(plan):
    PatternItem.objects.all().delete()
    with pytest.raises(Refused) as refused:
        rehearse_season(viewer=plan.viewer, season=plan.season)
    assert refused.value.code == "NO_PATTERN"


def test_before_the_first_there_is_none(plan):
    assert latest_rehearsal(viewer=plan.viewer, season=plan.season) is None


def test_every_write_leaves_its_line(plan):
    shorten(plan, 1)
    rehearsal = rehearsed(plan, solve=nothing_to_do)
    stop_rehearsal(viewer=plan.viewer, rehearsal_id=rehearsal.pk)
    second, _job = ask(plan)
    stop_rehearsal(viewer=plan.viewer, rehearsal_id=second.pk)
    lines = AccessLogEntry.objects.filter(club=plan.scene.club).order_by("seq").values_list("verb", "kind")
    assert list(lines) == [(verb, "rehearsal") for verb in ("ask", "solve", "ask", "stop")]
