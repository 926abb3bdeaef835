"""Rehearses a season in a worker: claims its job once, tells the progress, hears the wish to stop, keeps the result."""

import logging
from collections.abc import Sequence
from functools import partial
from typing import Any
from uuid import UUID

from django.utils.translation import gettext

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_for
from sessions.core.other_sports import not_the_clubs
from sessions.core.planner.changes import Document
from sessions.core.planner.faults import ProblemFaults
from sessions.core.planner.solve import solve_document
from sessions.core.rehearsal import Holds, Rehearsed, Solve, Stop, Verdict, all_placed, only_places, rehearse
from sessions.core.rehearsal_changes import WeekToHold
from sessions.models import Rehearsal
from sessions.selectors.rehearsals import weeks_to_rehearse
from sessions.services.propose_week import TASK as TASK_OF_PROPOSALS
from sessions.services.solve_proposal import solve_proposal
from sessions.services.touched_weeks import touched_weeks
from sessions.services.worked_rows import begin_work, is_stop_wanted, keep_work, tell_progress
from sessions.week_words import data_fault
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound
from teamtrack.common.jobs import claim_job, end_job, leased
from teamtrack.common.models import Job

log = logging.getLogger(__name__)
WORKERS, SEED = 2, 1
SECONDS_A_WEEK, SECONDS_A_TRY = 20.0, 6.0
HOLDS: Holds = partial(all_placed, seconds=SECONDS_A_TRY, workers=WORKERS, seed=SEED)


def solve_week(document: Document, *, should_stop: Stop | None = None) -> dict[str, Any]:
    """One week of the season; no change that is offered moves or drops what is not the club's."""
    return solve_document(
        document,
        seconds=SECONDS_A_WEEK,
        workers=WORKERS,
        seed=SEED,
        should_stop=should_stop,
        unmovable=not_the_clubs(document),
    )


def solve_rehearsal(*, job_id: UUID | str, solve: Solve = solve_week, holds: Holds = HOLDS) -> bool:
    """Do the job unless somebody else has it or it is done; False then.

    Runs outside a transaction. A worker that was lost leaves its job to the next, which begins anew; the result is
    written only by the worker that still holds the job, whole and in one transaction.
    """
    job = claim_job(job_id)
    if job is None:
        return False
    with leased(job):
        if begin_work(Rehearsal, job):
            rehearsal = Rehearsal.objects.select_related("season", "asked_by__club").get(pk=job.target_id)
            _finish(job, rehearsal, solve, holds)
        else:
            end_job(job)
    return True


def _finish(job: Job, rehearsal: Rehearsal, solve: Solve, holds: Holds) -> None:
    """Rehearse and keep what was found, or the failure in words; an error nobody foresaw is told too, then raised."""
    try:
        viewer = viewer_for(rehearsal.asked_by, Role.HEAD_COACH)
        if rehearsal.wanted is None:
            weeks, extra = weeks_to_rehearse(viewer=viewer, season=rehearsal.season), {}
            found = _rehearsed(rehearsal, weeks, solve, holds, {})
        else:
            found, extra = _tried(viewer, rehearsal, solve, holds)
    except ProblemFaults as faults:
        _fail(job, rehearsal, data_fault(faults))
    except NotFound:
        _fail(job, rehearsal, gettext("Whoever asked is no head coach any more."))
    except Exception:
        _fail(job, rehearsal, gettext("The rehearsal failed. Ask for it again."))
        raise
    else:
        state = Rehearsal.State.READY if found.is_whole else Rehearsal.State.STOPPED
        result = found.as_json() | extra
        keep_work(job, rehearsal, viewer, "rehearsal", state=state, result=result, ended_at=utc_now())


def _tried(viewer: Viewer, rehearsal: Rehearsal, solve: Solve, holds: Holds) -> tuple[Rehearsed, dict[str, Any]]:
    """The weeks that a change touches, each as it would be; where one would not hold, whether it holds as it is."""
    touched = touched_weeks(viewer=viewer, season=rehearsal.season, wanted=rehearsal.wanted or {})
    told = {"changes": [week.as_json() for week in touched]}
    after = [week.after for week in touched if week.after is not None]
    found = _rehearsed(rehearsal, after, solve, holds, told)
    broken = {finding.week.monday for finding in found.findings if finding.verdict is not Verdict.HOLDS}
    before = [week.before for week in touched if week.before is not None and week.before.monday in broken]
    held = [
        week.monday
        for week in before
        if not week.left_out
        and not is_stop_wanted(rehearsal)
        and not solve(only_places(week.document), should_stop=lambda: is_stop_wanted(rehearsal))["unplaced"]
    ]
    return found, told | {"held_before": held}


def _rehearsed(
    rehearsal: Rehearsal, weeks: Sequence[WeekToHold], solve: Solve, holds: Holds, told: dict[str, Any]
) -> Rehearsed:
    return rehearse(
        weeks,
        solve,
        holds,
        on_progress=lambda progress: _begin_step(rehearsal, progress | told),
        should_stop=lambda: is_stop_wanted(rehearsal),
    )


def _begin_step(rehearsal: Rehearsal, progress: dict[str, Any]) -> None:
    tell_progress(rehearsal, {**progress})
    _solve_waiting_proposals()


def _solve_waiting_proposals() -> None:
    """Between two steps: somebody waits at the page for the plan of a week, and one worker may be all there is."""
    waiting = Job.objects.filter(task=TASK_OF_PROPOSALS, state=Job.State.WAITING).order_by("made_at")
    for job_id in list(waiting.values_list("pk", flat=True)):
        try:
            solve_proposal(job_id=job_id)
        except Exception:
            log.exception("a proposal failed; its own row tells it")


def _fail(job: Job, rehearsal: Rehearsal, failure: str) -> None:
    state = Rehearsal.State.FAILED
    keep_work(job, rehearsal, None, "rehearsal", state=state, failure=failure[:200], ended_at=utc_now())
