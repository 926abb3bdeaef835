"""Reads an athlete's pain notes for somebody whom `health` allows; the read is logged before anything is sent."""

from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.db import transaction

from athletes.access import Answers
from athletes.models import Person
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.models import Entry, EntryKind, TrainingSession
from sessions.selectors.entries import entry_of
from sessions.selectors.form_history import counting_rows, entries_with_corrections
from teamtrack.common.row_security import rows_open

KEPT = timedelta(days=365)
"""Health is kept for 12 months at most (the permissions contract)."""


@dataclass(frozen=True)
class HealthNote:
    """Where it hurt, at which training session, who wrote it down."""

    training_session: TrainingSession
    by: Person
    place: str
    side: str
    words: str


@transaction.atomic
def read_health_notes(*, viewer: Viewer, athlete_id: UUID, answers: Answers) -> list[HealthNote]:
    """The pain notes that count, newest first; none, and nothing logged, where `health` is not allowed.

    `answers` are those that the viewer has about the athlete in this request, as access gave them.

    Committed with its line in the access log before it returns, so before a body can leave.
    """
    if not answers.may(athlete_id, "health"):
        return []
    rows = entries_with_corrections(viewer=viewer, athlete_ids=[athlete_id], kinds=(EntryKind.PAIN,), back=KEPT)
    with rows_open(people=[athlete_id]):
        found = counting_rows(rows.select_related("training_session", "by", "pain_detail"), athlete_id)
    notes = [_note(row) for row in found]
    if notes:
        code = str(answers.answer(athlete_id, "health").code)
        log_acts(viewer=viewer, acts=[Act("read", EntryKind.PAIN, athlete_id, ("place", "side", "words"), code)])
    return notes


def _note(row: Entry) -> HealthNote:
    said = entry_of(row).own
    return HealthNote(
        training_session=row.training_session,
        by=row.by,
        place=str(said["place"] or ""),
        side=str(said["side"] or ""),
        words=str(said["words"] or ""),
    )
