"""Records an answer to a permission question, or its stop: an event, never edited, with its line in the access log."""

from collections.abc import Collection
from datetime import timedelta
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.access import ASKED, Answers, get_athlete_asked_about
from athletes.core.permissions import Answer, Code
from athletes.models import Account, PermissionEvent, PermissionRecipient, Person, Wording
from athletes.models.permissions import Purpose
from athletes.permission_words import sentence_for
from athletes.selectors.permission_questions import (
    coaches_to_share_with,
    latest_answers,
    named_by_default,
    wording_in_force,
)
from athletes.services.access_log import Act, log_acts
from athletes.services.rules import confirmed_first
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.row_security import rows_open

LONGEST = timedelta(days=365)
"""Health is asked anew after 12 months at most (the permissions contract); the other answers no later."""

MET, CONTACT = 2, 1
"""Evidence (the permissions contract): met in person by an admin who handed over the sign-in; else a contact given at
joining. A second factor proves that it is the same person again, never who that is: it adds nothing here."""


@transaction.atomic
def answer_permission(
    *, viewer: Viewer, athlete_id: UUID, purpose: str, answer: str, recipient_ids: Collection[UUID] = ()
) -> PermissionEvent:
    """Say yes or no to one question about an athlete; a yes to `share` names its coaches.

    Raises NotFound for an athlete who is not the viewer's, Refused where this voice does not count, the purpose is not
    asked, a yes names nobody, or it is said before the club's rules are confirmed.
    """
    athlete, answers = get_athlete_asked_about(viewer, athlete_id)
    decided = _decided(answers, athlete_id, purpose, "answer")
    _refuse_unless(decided)
    given = PermissionEvent.Answer(answer)
    if given == PermissionEvent.Answer.YES:
        confirmed_first(viewer.club)
    named = _recipients(viewer, athlete, purpose, recipient_ids) if given == PermissionEvent.Answer.YES else []
    return _record(viewer, athlete, purpose, given, decided, named)


def withdraw_permission(*, viewer: Viewer, athlete_id: UUID, purpose: str) -> PermissionEvent:
    """Stop what was allowed, from the next request on; raises as `answer_permission`.

    A guardian without the right to decide is refused, but the wish to stop is kept: an event that decides nothing.
    """
    with transaction.atomic():
        athlete, answers = get_athlete_asked_about(viewer, athlete_id)
        decided = _decided(answers, athlete_id, purpose, "withdraw")
        if decided.may or decided.code is Code.GUARDIAN_NO_AUTHORITY:
            event = _record(viewer, athlete, purpose, PermissionEvent.Answer.WITHDRAWN, decided, [])
    _refuse_unless(decided)
    return event


@transaction.atomic
def take_back_answer(*, viewer: Viewer, athlete_id: UUID, event_id: UUID) -> PermissionEvent:
    """Undo one's own latest answer: what was said before it is said again, or, where nothing was, it is stopped."""
    athlete, _answers = get_athlete_asked_about(viewer, athlete_id)
    own = PermissionEvent.objects.filter(athlete=athlete, giver=viewer.person_id, about_guardian=None)
    with rows_open(club_id=viewer.club_id):
        undone = own.filter(pk=event_id).first()
    latest = latest_answers(viewer=viewer, athlete=athlete)
    if undone is None or latest[undone.purpose].pk != undone.pk:
        raise NotFound()
    before = latest_answers(viewer=viewer, athlete=athlete, before=undone).get(undone.purpose)
    if before is None or before.answer == PermissionEvent.Answer.WITHDRAWN:
        return withdraw_permission(viewer=viewer, athlete_id=athlete_id, purpose=undone.purpose)
    named = [recipient.person_id for recipient in before.recipients.all()]
    return answer_permission(
        viewer=viewer, athlete_id=athlete_id, purpose=undone.purpose, answer=before.answer, recipient_ids=named
    )


def _decided(answers: Answers, athlete_id: UUID, purpose: str, act: str) -> Answer:
    if purpose not in ASKED:
        raise Refused("NOT_ASKED", str(_("This is not asked.")), fields={"purpose": [str(_("This is not asked."))]})
    return answers.answer_to(athlete_id, purpose, act=act)


def _refuse_unless(decided: Answer) -> None:
    if not decided.may:
        raise Refused(decided.code, sentence_for(decided.code))


def _recipients(viewer: Viewer, athlete: Person, purpose: str, chosen: Collection[UUID]) -> list[Person]:
    """Whom a yes names: for `share` the chosen coaches, else those who follow from groups and family."""
    if purpose != Purpose.SHARE:
        return list(named_by_default(viewer=viewer, athlete=athlete).get(purpose, ()))
    named = [coach for coach in coaches_to_share_with(viewer=viewer, athlete=athlete) if coach.pk in set(chosen)]
    if len(named) != len(set(chosen)) or not named:
        raise Refused(
            "CHECK_FIELDS",
            str(_("Say which coaches may see it. Nothing was changed.")),
            fields={"recipients": [str(_("Choose one coach or more from the list."))]},
        )
    return named


def _record(
    viewer: Viewer, athlete: Person, purpose: str, answer: PermissionEvent.Answer, decided: Answer, named: list[Person]
) -> PermissionEvent:
    wording: Wording | None = wording_in_force(viewer=viewer, athlete=athlete, purpose=purpose)
    if wording is None:
        raise Refused("NOT_ASKED", str(_("The club has no wording for this question yet. Please tell an admin.")))
    evidence = evidence_of_sign_in(viewer)
    latest = latest_answers(viewer=viewer, athlete=athlete).get(purpose)
    if latest is not None and _is_said_again(viewer, latest, (answer, wording.pk, evidence), named):
        return latest
    event = PermissionEvent(
        club_id=viewer.club_id,
        athlete=athlete,
        giver_id=viewer.person_id,
        capacity=PermissionEvent.Capacity(viewer.role),
        purpose=purpose,
        answer=answer,
        wording=wording,
        at=viewer.now,
        until=viewer.now + LONGEST if answer == PermissionEvent.Answer.YES else None,
        method=PermissionEvent.Method.SCREEN,
        evidence=evidence,
        entered_by_id=viewer.person_id,
    )
    with rows_open(club_id=viewer.club_id):
        event.save(force_insert=True)
        PermissionRecipient.objects.bulk_create(
            PermissionRecipient(club_id=viewer.club_id, event=event, person=person) for person in named
        )
    act = Act(verb=answer.value, kind=purpose, subject_id=athlete.pk, fields=("answer",), code=decided.code)
    log_acts(viewer=viewer, acts=[act])
    return event


def _is_said_again(
    viewer: Viewer, latest: PermissionEvent, said: tuple[PermissionEvent.Answer, UUID, int], named: list[Person]
) -> bool:
    """Whether this is the form of a moment ago sent again: on the same day the very same, naming the same people."""
    is_same = (latest.answer, latest.wording_id, latest.evidence) == said
    names = {recipient.person_id for recipient in latest.recipients.all()}
    return is_same and latest.at.astimezone(viewer.now.tzinfo).date() == viewer.today and names == {p.pk for p in named}


def evidence_of_sign_in(viewer: Viewer) -> int:
    """The level of what is answered on one's own pages."""
    return MET if Account.objects.filter(person=viewer.person_id, handed_over=True).exists() else CONTACT
