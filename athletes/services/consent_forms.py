"""Answers by a form's code, without a sign-in: the same decision, of weaker evidence, and each code once."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.core.permissions import decide
from athletes.models import ConsentForm, PermissionEvent, Person
from athletes.permission_words import sentence_for
from athletes.selectors.consent_form import form_of
from athletes.selectors.signatures import Signer, own_signer
from athletes.services.form_codes import end_forms, form_by_code
from athletes.services.heard_answers import Heard, Method, Signed, facts_of_answer, keep_answer, speaker_for
from athletes.services.one_time_codes import is_open, wrong_code
from athletes.viewer import server_viewer
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Refused

BY_A_CONTACT = 1
"""An answer by a contact with a declaration (the permissions contract, evidence 1)."""


@dataclass(frozen=True)
class OpenForm:
    """What a code shows: whose form it is, and the questions that still wait for that person."""

    form: ConsentForm
    signer: Signer
    lines: Sequence[Mapping[str, Any]]


def open_form(*, typed: str, place: str) -> OpenForm:
    """What stands on the form of this code; raises Refused as `form_by_code`."""
    return _opened(form_by_code(typed=typed, place=place))


def answer_form(*, typed: str, place: str, said: Iterable[Signed], signed_in: Person | None) -> list[PermissionEvent]:
    """Keep what is answered with a code, which opens nothing from then on; all of it or nothing.

    Raises Refused as `form_by_code`, where nothing is answered, and in the sign-in of somebody else (`signed_in`).
    """
    form = form_by_code(typed=typed, place=place)
    answers = list(said)
    with transaction.atomic():
        if not is_open(ConsentForm.objects.select_for_update().get(pk=form.pk), utc_now()):
            raise wrong_code()
        if not answers:
            raise Refused("CHECK_FIELDS", _("Say yes or no to one question at least. Nothing was kept."))
        asked = {(line["athlete"].pk, line["purpose"]) for line in _opened(form).lines}
        if any((one.athlete.pk, one.purpose) not in asked for one in answers):
            raise Refused("NOT_ASKED", _("This is not asked any more. Nothing was kept."))
        events = [_keep(form, one, signed_in) for one in answers]
        end_forms(form.giver)
    return events


def _opened(form: ConsentForm) -> OpenForm:
    server = server_viewer(form.club)
    signer = own_signer(viewer=server, person=form.giver)
    signer.missing = [one for one in signer.missing if not one.to_see]
    return OpenForm(form, signer, form_of(viewer=server, signer=signer))


def _keep(form: ConsentForm, signed: Signed, signed_in: Person | None) -> PermissionEvent:
    speaker = speaker_for(giver=form.giver, athlete=signed.athlete, viewer=server_viewer(form.club))
    is_own = signed_in is None or signed_in.pk == form.giver_id
    decided = decide(facts_of_answer(speaker=speaker, signed=signed, signed_in_as_giver=is_own))
    if not decided.may:
        raise Refused(decided.code, sentence_for(decided.code))
    heard = Heard(Method.LINK, BY_A_CONTACT, entered_by=speaker)
    return keep_answer(speaker=speaker, signed=signed, decided=decided, heard=heard)
