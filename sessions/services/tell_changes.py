"""Tells people of changes to training sessions: a notice each in the app at once, and mail as its urgency allows."""

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.viewer import Viewer
from sessions.core.sending import is_urgent, leaves_at
from sessions.models import Notice, TrainingSession
from sessions.selectors.publication import Told
from teamtrack.common.jobs import add_job
from teamtrack.common.row_security import rows_open

TASK = "training.mail_changes"


def write_notices(*, viewer: Viewer, training_session: TrainingSession, told: Iterable[Told]) -> int:
    """A notice for each person whom a change concerns, to guardians one a child; how many people."""
    notices = [
        Notice(
            club_id=viewer.club_id,
            to_id=one.to,
            kind=one.kind,
            about_id=one.about,
            training_session=training_session,
            in_app_only=one.in_app_only,
            made_at=viewer.now,
        )
        for one in told
    ]
    people = {notice.to_id for notice in notices}
    with rows_open(people=people):
        Notice.objects.bulk_create(notices)
    return len(people)


def send_later(*, viewer: Viewer, target_id: UUID, changed: Iterable[TrainingSession]) -> None:
    """Note the mail of a change to these sessions, of one week or one session: the urgent at once, the rest by day."""
    now = viewer.now
    urgent = {is_urgent_now(one, now) for one in changed}
    if True in urgent:
        add_job(club_id=viewer.club_id, task=TASK, target_id=target_id)
    if False in urgent:
        due_at = leaves_at(changed_at=now, zone=ZoneInfo(viewer.club.timezone))
        add_job(club_id=viewer.club_id, task=TASK, target_id=target_id, due_at=due_at)


def is_urgent_now(training_session: TrainingSession, changed_at: datetime) -> bool:
    return is_urgent(
        is_called_off=training_session.is_called_off, starts_at=training_session.starts_at, changed_at=changed_at
    )
