"""Asks about a line of the access log, and answers: a person asks, an admin says what it was for."""

from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from athletes.models import LogQuestion
from athletes.models.accounts import Role
from athletes.selectors.access_log import lines_about
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Conflict, NotFound, Refused

LONGEST_ANSWER = 1000


def ask_about_line(*, viewer: Viewer, athlete_id: UUID, seq: int, words: str) -> LogQuestion:
    """Ask about a line that the viewer may see; once a line. Not found for any other line."""
    if not lines_about(viewer, athlete_id).filter(seq=seq).exists():
        raise NotFound()
    said = words.strip()
    if not said:
        raise Refused("CHECK_FIELDS", str(_("Please write what you want to know.")))
    question = LogQuestion(
        club_id=viewer.club_id,
        athlete_id=athlete_id,
        asked_by_id=viewer.person_id,
        seq=seq,
        words=said,
        asked_at=utc_now(),
    )
    try:
        with transaction.atomic():
            question.save(force_insert=True)
            log_acts(viewer=viewer, acts=[Act(verb="ask", kind="log_line", subject_id=athlete_id, fields=("words",))])
    except IntegrityError:
        raise Conflict(
            "ALREADY_ASKED", str(_("You have asked about this line. The answer will stand beside it."))
        ) from None
    return question


@transaction.atomic
def answer_question(*, viewer: Viewer, question_id: UUID, answer: str) -> LogQuestion:
    """An admin's answer; the first one stands."""
    rows = LogQuestion.objects.select_for_update().filter(pk=question_id, club=viewer.club_id)
    question = rows.first() if viewer.role == Role.ADMIN else None
    if question is None:
        raise NotFound()
    said = answer.strip()
    if not 0 < len(said) <= LONGEST_ANSWER:
        raise Refused("CHECK_FIELDS", str(_("Please write an answer of at most 1,000 characters. Nothing was sent.")))
    if question.answered_at is not None:
        raise Conflict("ALREADY_ANSWERED", str(_("Somebody has answered this already. Nothing was changed.")))
    question.answer, question.answered_by_id, question.answered_at = said, viewer.person_id, utc_now()
    question.save(update_fields=["answer", "answered_by", "answered_at"])
    act = Act(verb="answered", kind="log_line", subject_id=question.athlete_id, fields=("answer",))
    log_acts(viewer=viewer, acts=[act])
    return question
