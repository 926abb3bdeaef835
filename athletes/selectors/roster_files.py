"""Roster files of a club: those on their way in, and whether work on one goes on."""

from athletes.models import RosterFile
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound
from teamtrack.common.models import Job

OPEN = (RosterFile.State.READING, RosterFile.State.APPLYING)
MOST_SHOWN = 5


def files_of(viewer: Viewer) -> list[RosterFile]:
    """The newest files, for the club's admins: what waits, and what may still be undone."""
    if viewer.role != Role.ADMIN:
        raise NotFound()
    rows = RosterFile.objects.filter(club=viewer.club_id).exclude(state=RosterFile.State.UNDONE)
    return list(rows.defer("content", "made", "choices").select_related("by")[:MOST_SHOWN])


def has_worker_left(viewer: Viewer, file: RosterFile) -> bool:
    """Whether a file is worked on by nobody any more: its job was given up."""
    if file.state not in OPEN:
        return False
    job = Job.objects.filter(club=viewer.club_id, target_id=file.pk).order_by("-made_at").first()
    return job is None or job.state in (Job.State.DONE, Job.State.FAILED)
