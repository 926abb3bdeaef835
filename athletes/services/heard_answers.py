"""Keeps an answer that was given in another way than on one's own pages: on signed paper, or with a form's code."""

from dataclasses import dataclass
from uuid import UUID

from django.utils.translation import gettext as _

from athletes.circumstances.facts import circumstances
from athletes.core.permissions import Answer as Decided
from athletes.core.permissions.facts import Facts
from athletes.models import PermissionEvent, PermissionRecipient, Person
from athletes.models.accounts import Role
from athletes.models.permissions import Purpose
from athletes.selectors.permission_questions import coaches_to_share_with, named_by_default, wording_in_force
from athletes.services.access_log import Act, log_acts
from athletes.services.record_permission import LONGEST
from athletes.services.rules import confirmed_first
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.row_security import rows_open

Answer, Method = PermissionEvent.Answer, PermissionEvent.Method


@dataclass(frozen=True)
class Signed:
    """One line of a form: about whom, which purpose, yes or no; a yes to `share` names its coaches."""

    athlete: Person
    purpose: str
    answer: str
    recipient_ids: tuple[UUID, ...] = ()


@dataclass(frozen=True)
class Heard:
    """How an answer came: by which method, of which evidence, entered by whom, before which witness."""

    method: str
    evidence: int
    entered_by: Viewer
    witness: str = ""


def speaker_for(*, giver: Person, athlete: Person, viewer: Viewer) -> Viewer:
    """The giver as the decision hears them, athlete or guardian; `viewer` gives the club and the time."""
    if athlete.club_id != viewer.club_id or giver.club_id != viewer.club_id:
        raise NotFound()
    role = Role.ATHLETE if giver.pk == athlete.pk else Role.GUARDIAN
    return Viewer(person=giver, club=viewer.club, role=role, now=viewer.now, request_id=viewer.request_id)


def facts_of_answer(*, speaker: Viewer, signed: Signed, **more: object) -> Facts:
    """The facts of this answer; `more` as who speaks for whom."""
    found = circumstances(viewer=speaker, athletes=[signed.athlete], purposes=[signed.purpose])
    act = "withdraw" if signed.answer == Answer.WITHDRAWN else "answer"
    return found.facts(signed.athlete.pk, signed.purpose, act=act, **more)


def keep_answer(
    *, speaker: Viewer, signed: Signed, decided: Decided, heard: Heard, before: PermissionEvent | None = None
) -> PermissionEvent:
    """The event with whom it names and its line in the access log; in the caller's transaction, after the decision.

    `before` is the answer that is seen signed now: the same people are named, on the same wording.
    """
    if signed.answer == Answer.YES:
        confirmed_first(speaker.club)
    athlete, by = signed.athlete, heard.entered_by
    wording = before.wording if before else wording_in_force(viewer=speaker, athlete=athlete, purpose=signed.purpose)
    if wording is None:
        raise Refused("NOT_ASKED", _("The club has no wording for this question yet. Please tell an admin."))
    event = PermissionEvent(
        club_id=speaker.club_id, athlete=athlete, giver=speaker.person, capacity=speaker.role, purpose=signed.purpose,
        answer=signed.answer, wording=wording, at=speaker.now,
        until=speaker.now + LONGEST if signed.answer == Answer.YES else None, method=heard.method,
        evidence=heard.evidence, entered_by=by.person, witness=heard.witness.strip()[:120],
    )  # fmt: skip
    with rows_open(club_id=speaker.club_id):
        event.save(force_insert=True)
        named = _named(speaker, signed, before)
        PermissionRecipient.objects.bulk_create(
            PermissionRecipient(club_id=speaker.club_id, event=event, person_id=person) for person in named
        )
    log_acts(viewer=by, acts=[Act(signed.answer, signed.purpose, athlete.pk, ("answer",), decided.code)])
    return event


def _named(speaker: Viewer, signed: Signed, before: PermissionEvent | None) -> list[UUID]:
    """Whom a yes names: those of the answer that is seen signed, else who follows from groups and family."""
    if signed.answer != Answer.YES:
        return []
    if before is not None:
        return list(before.recipients.values_list("person_id", flat=True))
    if signed.purpose == Purpose.SHARE:
        known = {coach.pk for coach in coaches_to_share_with(viewer=speaker, athlete=signed.athlete)}
        named = [one for one in signed.recipient_ids if one in known]
        if not named:
            raise Refused("CHECK_FIELDS", _("Say which coaches may see it. Nothing was kept."))
        return named
    return [person.pk for person in named_by_default(viewer=speaker, athlete=signed.athlete).get(signed.purpose, ())]
