"""The admin's part of consents: signed papers entered, answers by link seen signed, reminders, confirmed rules."""

from collections.abc import Iterable
from dataclasses import replace
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.core.asking import next_reminder
from athletes.core.permissions import decide
from athletes.core.permissions.facts import Role as ActingRole
from athletes.core.permissions.facts import WordOf
from athletes.core.standing import digital_age_of
from athletes.models import (
    Club,
    ConsentReminder,
    DigitalAge,
    PermissionEvent,
    PermissionRecipient,
    Person,
    RulesConfirmed,
)
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.selectors.requests import may_be_in_the_case
from athletes.selectors.signatures import answers_by_link, signer_of, signers
from athletes.services.access_log import Act, log_acts
from athletes.services.form_codes import end_forms
from athletes.services.heard_answers import Answer, Heard, Method, Signed, facts_of_answer, keep_answer, speaker_for
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.row_security import rows_open

IN_PERSON = 2


@transaction.atomic
def enter_paper(*, viewer: Viewer, giver: Person, signed: Iterable[Signed], witness: str = "") -> list[PermissionEvent]:
    """Enter a signed paper that the admin sees now; a stop may have been spoken before a witness.

    Raises NotFound for another club's people, Refused where the giver may not decide, or in the admin's own case.
    """
    _admin(viewer)
    events = [_enter(viewer, giver, one, witness) for one in signed]
    if not events:
        raise Refused("CHECK_FIELDS", _("Say yes or no to one question at least. Nothing was kept."))
    return events


@transaction.atomic
def see_form(*, viewer: Viewer, person_id: UUID) -> list[PermissionEvent]:
    """The admin sees the signed form of what was answered by link: the same answers, now with the evidence of paper."""
    signer = signer_of(_admin(viewer), person_id)
    answers = answers_by_link(viewer=viewer, giver=signer.person)
    if not answers:
        raise Refused("NOTHING_TO_SEE", _("Nothing was answered by link: type in the paper. Nothing was changed."))
    return [_enter(viewer, signer.person, Signed(one.athlete, one.purpose, one.answer), before=one) for one in answers]


@transaction.atomic
def take_back_papers(*, viewer: Viewer, event_ids: Iterable[UUID]) -> None:
    """Undo one's own last entries: what was said before holds again; where nothing was, nothing is allowed."""
    _admin(viewer)
    mine = PermissionEvent.objects.filter(club=viewer.club_id, entered_by=viewer.person_id, method=Method.PAPER)
    with rows_open(club_id=viewer.club_id):
        undone = list(mine.filter(pk__in=list(event_ids)).select_related("athlete", "giver"))
        if not undone:
            raise NotFound()
        for event in undone:
            same = PermissionEvent.objects.filter(
                athlete=event.athlete, giver=event.giver, capacity=event.capacity, purpose=event.purpose,
                about_guardian=None,
            )  # fmt: skip
            if same.filter(at__gt=event.at).exists():
                raise Refused("ANSWERED_SINCE", _("There is a newer answer. Nothing was changed."))
            before = same.filter(at__lt=event.at).order_by("-at", "-id").first()
            _say_again(viewer, event, before)
    log_acts(viewer=viewer, acts=[Act("undone", "permission", event.athlete_id, ("answer",)) for event in undone])


@transaction.atomic
def remind_signer(*, viewer: Viewer, person_id: UUID) -> ConsentReminder:
    """Remind somebody, twice at most and in daytime: at night it is held until 08:00 of the club's time."""
    signer = signer_of(_admin(viewer), person_id)
    given = next_reminder(now=viewer.now, earlier=signer.reminded, last=signer.reminded_at)
    if given is None:
        raise Refused("REMINDED_ENOUGH", _("Reminded twice, or less than a week ago: please speak to them instead."))
    row, is_new = ConsentReminder.objects.get_or_create(
        giver=signer.person,
        number=given.number,
        defaults={"club_id": viewer.club_id, "at": given.at, "sent_by": viewer.person},
    )
    if is_new:
        acts = [Act("ask", "permission", child.pk, ("reminder",)) for child in signer.children]
        log_acts(viewer=viewer, acts=acts)
    return row


def remind_all(*, viewer: Viewer) -> int:
    """Remind everybody who may be reminded now; answers how many."""
    count = 0
    for signer in signers(_admin(viewer)):
        if next_reminder(now=viewer.now, earlier=signer.reminded, last=signer.reminded_at) is not None:
            remind_signer(viewer=viewer, person_id=signer.person.pk)
            count += 1
    return count


@transaction.atomic
def confirm_rules(*, viewer: Viewer, book: str, by_name: str) -> RulesConfirmed:
    """A named person stands for the rule book, the ages and the wordings; the ages are checked on this day. The very
    same on the same day is the row that is there."""
    _admin(viewer)
    if not by_name.strip():
        raise Refused("CHECK_FIELDS", _("Say who has read them. Nothing was changed."))
    club = viewer.club
    is_us = book == RulesConfirmed.Book.UNITED_STATES
    Club.objects.filter(pk=club.pk).update(us_rule=is_us)
    DigitalAge.objects.filter(club=club).update(checked_on=viewer.today)
    rows = DigitalAge.objects.filter(club=club, valid_from__lte=viewer.today).order_by("valid_from")
    ages, _joint = digital_age_of({row.country: (row.age, row.joint) for row in rows}, [club.country])
    confirmed, is_new = RulesConfirmed.objects.get_or_create(
        club=club, book=book, country=club.country, digital_age=max(ages), by_name=by_name.strip(),
        confirmed_on=viewer.today, entered_by=viewer.person,
    )  # fmt: skip
    if is_new:
        log_acts(viewer=viewer, acts=[Act("set", "rules", fields=("book", "by_name"), code=book.upper())])
    return confirmed


def _admin(viewer: Viewer) -> Viewer:
    if viewer.role != Role.ADMIN:
        raise NotFound()
    return viewer


def _enter(
    viewer: Viewer, giver: Person, signed: Signed, witness: str = "", before: PermissionEvent | None = None
) -> PermissionEvent:
    """One answer of a paper: the decision hears the giver, an admin enters it; the giver's codes open nothing more."""
    speaker = speaker_for(giver=giver, athlete=signed.athlete, viewer=viewer)
    word = WordOf.ATHLETE if speaker.role == Role.ATHLETE else WordOf.GUARDIAN
    facts = facts_of_answer(speaker=speaker, signed=signed, word_of=word)
    own_case = may_be_in_the_case(viewer=viewer, athlete=signed.athlete)
    decided = decide(replace(facts, by=ActingRole.ADMIN, own_case=own_case))
    if not decided.may:
        raise Refused(decided.code, sentence_for(decided.code))
    end_forms(giver)
    heard = Heard(Method.PAPER, IN_PERSON, entered_by=viewer, witness=witness)
    return keep_answer(speaker=speaker, signed=signed, decided=decided, heard=heard, before=before)


def _say_again(viewer: Viewer, undone: PermissionEvent, before: PermissionEvent | None) -> None:
    again = PermissionEvent(
        club_id=viewer.club_id, athlete=undone.athlete, giver=undone.giver, capacity=undone.capacity,
        purpose=undone.purpose, answer=before.answer if before else Answer.WITHDRAWN,
        wording=before.wording if before else undone.wording, at=viewer.now, until=before.until if before else None,
        method=before.method if before else Method.PAPER, evidence=before.evidence if before else IN_PERSON,
        entered_by=viewer.person,
    )  # fmt: skip
    again.save(force_insert=True)
    if before is not None:
        named = before.recipients.values_list("person_id", flat=True)
        PermissionRecipient.objects.bulk_create(
            PermissionRecipient(club_id=viewer.club_id, event=again, person_id=person) for person in named
        )
