"""Solves a proposal in a worker: claims its job once, tells the progress, hears the wish to stop, keeps the result."""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils.translation import gettext

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_for
from sessions.core.iso_week import IsoWeek
from sessions.core.offers import with_what_can_still_be
from sessions.core.other_sports import not_the_clubs, said_of
from sessions.core.planner.faults import ProblemFaults
from sessions.core.planner.problem import Placement, Problem
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import broken_rules
from sessions.core.planner.score import score_of
from sessions.core.planner.solve import solve_document
from sessions.core.stretches import Stretch
from sessions.core.week_changes import Place, places_of_plan
from sessions.models import Proposal, TrainingSession
from sessions.selectors.moving import can_session_begin
from sessions.selectors.planning_problem import as_session, build_problem
from sessions.selectors.week_draft import demands_of, draft_places
from sessions.services.worked_rows import begin_work, is_stop_wanted, keep_work, tell_progress
from sessions.week_words import data_fault
from teamtrack.common.errors import NotFound
from teamtrack.common.jobs import claim_job, end_job, leased
from teamtrack.common.models import Job

SECONDS, WORKERS, SEED = 60.0, 2, 1
Solver = Callable[..., dict[str, Any]]


class PlanRefused(Exception):
    """A proposal that is not shown; the message is a sentence for the head coach."""


def solve_proposal(*, job_id: UUID | str, solve: Solver = solve_document) -> bool:
    """Do the job unless somebody else has it or it is done; False then.

    Runs outside a transaction. A worker that was lost leaves its job to the next; the result is written only by the
    worker that still holds the job, whole and in one transaction.
    """
    job = claim_job(job_id)
    if job is None:
        return False
    with leased(job):
        proposal = _begin(job)
        if proposal is not None:
            _finish(job, proposal, solve)
        else:
            end_job(job)
    return True


def _begin(job: Job) -> Proposal | None:
    """The proposal, marked as worked on; None where it was stopped before or is gone."""
    if not begin_work(Proposal, job):
        return None
    return Proposal.objects.select_related("week", "asked_by__club").get(pk=job.target_id)


def _finish(job: Job, proposal: Proposal, solve: Solver) -> None:
    """Solve and keep the plan, or the failure in words; an error nobody foresaw is told too, then raised."""
    try:
        viewer = viewer_for(proposal.asked_by, Role.HEAD_COACH)
        problem, left_out, plan = _solved(viewer, proposal, solve)
    except PlanRefused as refusal:
        _keep(job, proposal, state=Proposal.State.FAILED, failure=str(refusal)[:200])
    except NotFound:
        _keep(job, proposal, state=Proposal.State.FAILED, failure=gettext("Whoever asked is no head coach any more."))
    except Exception:
        _keep(job, proposal, state=Proposal.State.FAILED, failure=gettext("The planner failed. Ask it again."))
        raise
    else:
        progress = {**proposal.progress, "left_out": left_out, "seconds": plan["seconds"]}
        _keep(job, proposal, viewer, state=Proposal.State.READY, problem=problem, plan=plan, progress=progress)


def _solved(viewer: Viewer, proposal: Proposal, solve: Solver) -> tuple[dict[str, Any], dict[str, str], dict[str, Any]]:
    """Problem, what it could not state, and a plan that keeps every rule."""
    if proposal.week.revision != proposal.based_on_revision:
        raise PlanRefused(gettext("The week was changed before the work began. Ask for a new proposal."))
    built = build_problem(viewer=viewer, week=proposal.week)
    try:
        problem = read_problem(built.document)
        plan = solve(
            built.document,
            seconds=SECONDS,
            workers=WORKERS,
            seed=SEED,
            on_progress=lambda progress: tell_progress(proposal, progress),
            should_stop=lambda: is_stop_wanted(proposal),
            unmovable=not_the_clubs(built.document),
        )
    except ProblemFaults as faults:
        raise PlanRefused(data_fault(faults)) from None
    if broken_rules(problem, _placements(problem, places_of_plan(plan))):
        raise PlanRefused(gettext("The planner's answer broke a rule, so it is not shown. Ask it again."))
    if _is_draft_better(problem, draft_places(demands_of(proposal.week)), plan["objective"]):
        raise PlanRefused(gettext("Nothing better than the week as it is was found in the time. Nothing was changed."))
    fixed = {row["id"]: datetime.fromisoformat(row["start"]) for row in built.document["fixed"]}
    own = [one for one in fixed if said_of(one) is None]
    plan = with_what_can_still_be(
        plan,
        fixed,
        viewer.now,
        _weeks_of(viewer, own),
        lambda item, at: can_session_begin(viewer=viewer, problem=problem, item=item, starts_at=at),
    )
    return built.document, {str(demand): reason.value for demand, reason in built.left_out.items()}, plan


def _weeks_of(viewer: Viewer, items: Iterable[str]) -> dict[str, Stretch]:
    """Of the sessions among the fixed items that a week's plan placed, that week."""
    rows = TrainingSession.objects.filter(club=viewer.club_id, pk__in={as_session(one) for one in items})
    mondays = dict(rows.exclude(demand=None).values_list("pk", "demand__week__monday"))
    zone = ZoneInfo(viewer.club.timezone)
    weeks = {str(pk): IsoWeek(monday, zone) for pk, monday in mondays.items()}
    return {pk: (week.starts_at, week.ends_at) for pk, week in weeks.items()}


def _is_draft_better(problem: Problem, draft: Mapping[str, Place], objective: int) -> bool:
    """Whether the week as it stands keeps every rule and costs less: a search stopped early may not get that far."""
    placements = _placements(problem, draft)
    return score_of(problem, placements).cost(problem.weights) < objective and not broken_rules(problem, placements)


def _placements(problem: Problem, places: Mapping[str, Place]) -> list[Placement]:
    """The places of the demands that the problem knows, as the planner's rules take them."""
    return [place.as_placement(demand) for demand, place in places.items() if demand in problem.demands]


def _keep(job: Job, proposal: Proposal, viewer: Viewer | None = None, **result: object) -> None:
    keep_work(job, proposal, viewer, "proposal", **result)
