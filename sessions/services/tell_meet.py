"""Tells of a meet's change whom it concerns: who goes, the guardians of minors, who leads it."""

from uuid import UUID

from athletes.viewer import Viewer
from sessions.models import Notice, TrainingSession
from sessions.selectors.publication import Told
from sessions.selectors.session_concerns import told_of_session
from sessions.services.tell_changes import send_later, write_notices


def concerned(
    *, viewer: Viewer, meet: TrainingSession, kind: Notice.Kind, athlete_id: UUID | None = None
) -> list[Told]:
    """Whom a change concerns, as the roster is now; of one athlete, that athlete and the family. Nobody once it is
    over."""
    if meet.ends_at <= viewer.now:
        return []
    told = told_of_session(viewer=viewer, training_session=meet, kind=kind)
    return [one for one in told if athlete_id in (None, one.about or one.to)]


def tell(*, viewer: Viewer, meet: TrainingSession, told: list[Told]) -> None:
    """A notice for each, and mail as its urgency allows."""
    if told:
        write_notices(viewer=viewer, training_session=meet, told=told)
        send_later(viewer=viewer, target_id=meet.pk, changed=[meet])
