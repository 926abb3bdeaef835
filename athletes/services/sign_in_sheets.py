"""Sheets that lead to a sign-in: the first by an admin, a new one by a guardian or by two people of the club.

A password is never shown to anybody: whoever takes a sheet sets user name and password, once.
"""

import re
import unicodedata
from collections.abc import Sequence
from datetime import timedelta
from uuid import UUID

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from athletes.core.form_codes import FormCode
from athletes.core.passwords import as_typed
from athletes.models import Account, Person, RecoveryAsk, SignInSheet
from athletes.models.accounts import Role
from athletes.password_rules import suggested_words
from athletes.selectors.sign_in_sheets import (
    ASK_GOOD_FOR,
    MAY_GIVE,
    account_of,
    child_to_help,
    may_ask,
    people_to_recover,
    to_invite,
    without_sign_in,
)
from athletes.services.access_log import Act, log_acts
from athletes.services.one_time_codes import Drawn, add_codes, draw_secrets, end_codes, is_open, row_by_code, wrong_code
from athletes.services.rules import confirmed_first
from athletes.services.second_factor import lift_factors
from athletes.services.sign_ins import end_sign_ins, own_viewer
from athletes.viewer import Viewer
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound, Refused

Made = tuple[SignInSheet, FormCode]
MOST_A_DAY = 50
"""Sheets that one admin makes in a day by single presses (common practice, no source); "all missing" counts as one."""


def make_sheet(*, viewer: Viewer, person_id: UUID, in_person: bool) -> Made:
    """A first sign-in for somebody who has none, handed over in person or sent as a link; sheets before it die.

    Raises NotFound for whoever is signed in already, Refused before the club's rules are confirmed.
    """
    person = to_invite(viewer, person_id)
    confirmed_first(viewer.club)
    made_today = SignInSheet.objects.filter(made_by=viewer.person_id, made_at__gt=utc_now() - timedelta(days=1))
    if made_today.count() >= MOST_A_DAY:
        raise Refused("TOO_MANY", _("That is enough for today; all that are missing can still be printed."))
    return _make(viewer, [person], in_person=in_person)[0]


def make_missing(*, viewer: Viewer) -> list[Made]:
    """Sheets to hand over for everybody who can sign in and has neither a sign-in nor a sheet that waits."""
    confirmed_first(viewer.club)
    people = [one.person for one in without_sign_in(viewer) if one.sheet is None]
    return _make(viewer, people, in_person=True)


@transaction.atomic
def revoke_sheet(*, viewer: Viewer, sheet_id: UUID) -> None:
    """An admin, or its owner in whatever role, makes a sheet useless; one already used stays as it is."""
    sheet = SignInSheet.objects.select_for_update().filter(pk=sheet_id, club=viewer.club_id).first()
    if sheet is None or (viewer.role != Role.ADMIN and sheet.person_id != viewer.person_id):
        raise NotFound()
    _end_sheets(sheet.person)
    log_acts(viewer=viewer, acts=[Act("removed", "sign_in_sheet", sheet.person_id)])


def make_for_child(*, viewer: Viewer, athlete_id: UUID) -> Made:
    """A guardian who may decide gives a child under 18 a sign-in, the first or a new one."""
    child = child_to_help(viewer, athlete_id)
    confirmed_first(viewer.club)
    return _make(viewer, [child], in_person=False)[0]


@transaction.atomic
def ask_recovery(*, viewer: Viewer, person_id: UUID) -> RecoveryAsk:
    """The first of two people of the club: this one should get a new sign-in. Asked twice, it is one ask."""
    person = next((one for one in people_to_recover(viewer) if one.pk == person_id), None)
    if person is None:
        raise NotFound()
    fresh = RecoveryAsk.objects.filter(person=person, ended_at=None, asked_at__gt=utc_now() - ASK_GOOD_FOR)
    ask = fresh.filter(asked_by=viewer.person_id).first()
    if ask is None:
        ask = RecoveryAsk.objects.create(
            club_id=viewer.club_id, person=person, asked_by=viewer.person, asked_at=utc_now()
        )
        log_acts(viewer=viewer, acts=[Act("ask", "sign_in_sheet", person.pk)])
    return ask


def give_recovery(*, viewer: Viewer, ask_id: UUID, lifts_factor: bool) -> Made:
    """The second of the two, an admin or the welfare lead, within a day: makes the sheet and hands it over.

    Raises NotFound for an ask that is one's own, about oneself, too old or ended.
    """
    if viewer.role not in MAY_GIVE or not may_ask(viewer):
        raise NotFound()
    drawn = draw_secrets(1)
    with transaction.atomic():
        fresh = RecoveryAsk.objects.select_for_update().filter(
            pk=ask_id, club=viewer.club_id, ended_at=None, asked_at__gt=utc_now() - ASK_GOOD_FOR
        )
        ask = fresh.exclude(asked_by=viewer.person_id).exclude(person=viewer.person_id).first()
        if ask is None:
            raise NotFound()
        RecoveryAsk.objects.filter(person=ask.person_id, ended_at=None).update(ended_at=utc_now())
        in_person = viewer.role == Role.ADMIN
        more = {"lifts_factor": lifts_factor, "asked_by_id": ask.asked_by_id}
        return _write(viewer, [ask.person], drawn, in_person=in_person, **more)[0]


def sheet_by_code(*, typed: str, place: str) -> SignInSheet:
    """The sheet that a code opens. Raises Refused, in the same words, for an unknown, used, dead or too old one."""
    rows = SignInSheet.objects.select_related("person__club")
    sheet = row_by_code(rows, typed=typed, place=place)
    if sheet is None or not is_open(sheet, utc_now()):
        raise wrong_code()
    return sheet


def take_sheet(*, typed: str, place: str, username: str, password: str) -> Account:
    """Set user name and password with a sheet, which opens nothing from then on; every sign-in of before ends.

    Raises Refused as `sheet_by_code`, and with its fields where name or password will not do.
    """
    sheet = sheet_by_code(typed=typed, place=place)
    with transaction.atomic():
        if not is_open(SignInSheet.objects.select_for_update().get(pk=sheet.pk), utc_now()):
            raise wrong_code()
        account = account_of(sheet.person) or Account(person=sheet.person, username=as_typed(username).strip())
        account.person = sheet.person
        _refuse_bad(account, password)
        account.set_password(password)
        account.handed_over = sheet.in_person
        _save(account)
        if sheet.lifts_factor:
            lift_factors(account)
        _end_sheets(sheet.person)
        end_sign_ins(person=sheet.person)
        log_acts(viewer=own_viewer(sheet.person), acts=[Act("set", "account", sheet.person_id, ("password",))])
    return account


def suggested_username(person: Person) -> str:
    """First name and two words: easily remembered, and nothing that tells a birthday."""
    first = unicodedata.normalize("NFKD", person.given_name).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z]+", "", first) or "runner"
    return "-".join([name, *suggested_words(2)])


def _make(viewer: Viewer, people: Sequence[Person], *, in_person: bool) -> list[Made]:
    drawn = draw_secrets(len(people))
    with transaction.atomic():
        return _write(viewer, people, drawn, in_person=in_person)


def _write(viewer: Viewer, people: Sequence[Person], drawn: Sequence[Drawn], **columns: object) -> list[Made]:
    end_codes(SignInSheet.objects.filter(person__in=people))
    made = add_codes(SignInSheet, viewer=viewer, drawn=drawn, columns=[{"person": one} | columns for one in people])
    Account.objects.filter(person__in=people).update(sheet_made_at=utc_now())
    log_acts(viewer=viewer, acts=[Act("made", "sign_in_sheet", one.pk, ("code_hash",)) for one in people])
    return made


def _end_sheets(person: Person) -> None:
    end_codes(SignInSheet.objects.filter(person=person))
    Account.objects.filter(person=person).update(sheet_made_at=None)


def _refuse_bad(account: Account, password: str) -> None:
    fields: dict[str, list[str]] = {}
    if account.pk is None and not re.fullmatch(r"[\w.@-]{3,80}", account.username):
        fields["username"] = [_("Letters, figures, dot and dash, at least three.")]
    try:
        validate_password(password, account)
    except ValidationError as error:
        fields["password"] = error.messages
    if fields:
        raise Refused("CHECK_FIELDS", _("Please look again. Nothing was kept; the code still works."), fields=fields)


def _save(account: Account) -> None:
    try:
        with transaction.atomic():
            account.sheet_made_at = None
            account.save()
    except IntegrityError as error:
        taken = {"username": [_("This user name is taken. Add a word.")]}
        raise Refused("CHECK_FIELDS", _("Please look again. The code still works."), fields=taken) from error
