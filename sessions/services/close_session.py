"""The end of a training session: closed with the adults who were counted, and a line for the next time."""

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.services.access_log import Act, log_acts
from sessions.access import Part
from sessions.core.entries.values import is_clean_text
from sessions.models import Notice, SessionClosing, SessionCoach, SessionNote, TrainingSession
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.row_security import rows_open

LONGEST_NOTE = 500


@transaction.atomic
def close_session(*, part: Part, adults: int, visitors: int) -> SessionClosing:
    """Close the session; closing it again keeps the last count."""
    closing, _made = SessionClosing.objects.update_or_create(
        training_session=part.training_session,
        defaults={
            "club_id": part.viewer.club_id,
            "closed_at": part.viewer.now,
            "closed_by_id": part.viewer.person_id,
            "adults": adults,
            "visitors": visitors,
        },
    )
    log_acts(viewer=part.viewer, acts=[Act("closed", "training_session", None, ("adults", "visitors"))])
    return closing


@transaction.atomic
def reopen_session(*, part: Part) -> None:
    """Take the closing back; one that is open stays open."""
    if SessionClosing.objects.filter(training_session=part.training_session).delete()[0]:
        log_acts(viewer=part.viewer, acts=[Act("opened", "training_session")])


@transaction.atomic
def note_session(*, part: Part, text: str, to: UUID | None = None) -> SessionNote:
    """Keep a line about the session as a whole; passed on, it tells that coach of the session. The very same line again
    is the one that is there.

    Raises Refused for words that cannot be kept, NotFound for somebody who is not on the session's list.
    """
    if not 1 <= len(text) <= LONGEST_NOTE or not is_clean_text(text) or not text.strip():
        raise Refused("BAD_TEXT", str(_("These words cannot be kept: say something plain, 500 letters at most.")))
    leads = SessionCoach.objects.filter(training_session=part.training_session, taken_off_at=None)
    if to is not None and not leads.filter(coach=to).exists():
        raise NotFound()
    TrainingSession.objects.select_for_update(no_key=True).get(pk=part.training_session.pk)
    said = {"training_session": part.training_session, "by_id": part.viewer.person_id, "to_id": to, "text": text}
    there = SessionNote.objects.filter(**said).first()
    if there is not None:
        return there
    note = SessionNote.objects.create(club_id=part.viewer.club_id, at=part.viewer.now, **said)
    if to is not None:
        with rows_open(people=[to]):
            Notice.objects.create(
                club_id=part.viewer.club_id,
                to_id=to,
                kind=Notice.Kind.PASSED_ON,
                training_session=part.training_session,
                made_at=part.viewer.now,
            )
    log_acts(viewer=part.viewer, acts=[Act("made", "session_note", None, ("text",))])
    return note


@transaction.atomic
def remove_note(*, part: Part, note_id: UUID) -> None:
    """Take back one's own note; somebody else's is not found."""
    rows = SessionNote.objects.filter(pk=note_id, training_session=part.training_session, by=part.viewer.person_id)
    note = rows.first()
    if note is None:
        raise NotFound()
    if note.to_id is not None:
        told = {"to": note.to_id, "kind": Notice.Kind.PASSED_ON, "training_session": part.training_session}
        with rows_open(people=[note.to_id]):
            Notice.objects.filter(**told, made_at=note.at).delete()
    note.delete()
    log_acts(viewer=part.viewer, acts=[Act("removed", "session_note", None, ("text",))])
