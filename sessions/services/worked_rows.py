"""Rows that a worker works on, proposals and rehearsals: begun once, told of, stopped, and kept whole."""

from django.db import transaction

from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.models import Proposal, Rehearsal
from sessions.selectors.proposals import OPEN
from teamtrack.common.jobs import end_job
from teamtrack.common.models import Job

Worked = Proposal | Rehearsal


def begin_work(model: type[Worked], job: Job) -> bool:
    """Mark the row of the job as worked on; False where it was stopped before or is gone."""
    rows = model.objects.filter(pk=job.target_id, club=job.club_id, state__in=OPEN)
    return rows.update(state=model.State.RUNNING) == 1


def tell_progress(row: Worked, progress: dict[str, object]) -> None:
    """Write how far the work is, as long as it goes on."""
    type(row).objects.filter(pk=row.pk, state=row.State.RUNNING).update(progress=progress)


def is_stop_wanted(row: Worked) -> bool:
    """Whether somebody wished it to stop, or the row is gone."""
    wanted = type(row).objects.filter(pk=row.pk).values_list("stop_wanted", flat=True).first()
    return wanted is not False


def wish_to_stop(*, viewer: Viewer, row: Worked, kind: str) -> None:
    """What has not begun never begins; what is being worked on keeps what it has. Logged once."""
    rows = type(row).objects.filter(pk=row.pk)
    wished = rows.filter(state__in=OPEN, stop_wanted=False).update(stop_wanted=True)
    rows.filter(state=row.State.WAITING).update(state=row.State.STOPPED)
    if wished:
        log_acts(viewer=viewer, acts=[Act("stop", kind)])
    row.refresh_from_db()


@transaction.atomic
def keep_work(job: Job, row: Worked, viewer: Viewer | None, kind: str, **result: object) -> None:
    """Write the result and end the job, if this worker still holds it."""
    if not end_job(job, failed=result["state"] == row.State.FAILED):
        return
    type(row).objects.filter(pk=row.pk, state=row.State.RUNNING).update(**result)
    if viewer is not None:
        log_acts(viewer=viewer, acts=[Act("solve", kind)])
