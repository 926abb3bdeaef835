"""Forms with a one-time code: made for people who have questions to answer, found by what was typed."""

from collections.abc import Sequence
from uuid import UUID

from django.db import transaction

from athletes.core.form_codes import FormCode
from athletes.models import ConsentForm, Person
from athletes.models.accounts import Role
from athletes.selectors.signatures import signer_of
from athletes.services.access_log import Act, log_acts
from athletes.services.one_time_codes import add_codes, draw_secrets, end_codes, is_open, row_by_code, wrong_code
from athletes.services.rules import confirmed_first
from athletes.viewer import Viewer
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound


def make_form(*, viewer: Viewer, person_id: UUID) -> tuple[ConsentForm, FormCode]:
    """A new form for somebody who has questions to answer, and its code, which is told this once; older ones die.

    Raises NotFound where nothing waits for that person, Refused before the club's rules are confirmed.
    """
    [made] = make_forms(viewer=viewer, people=[signer_of(viewer, person_id).person])
    return made


def make_forms(*, viewer: Viewer, people: Sequence[Person]) -> list[tuple[ConsentForm, FormCode]]:
    """A new form for each of these people, for whom questions wait, all of them or none; their older ones die."""
    if viewer.role != Role.ADMIN:
        raise NotFound()
    confirmed_first(viewer.club)
    drawn = draw_secrets(len(people))
    with transaction.atomic():
        end_codes(ConsentForm.objects.filter(giver__in=people))
        made = add_codes(ConsentForm, viewer=viewer, drawn=drawn, columns=[{"giver": person} for person in people])
        log_acts(viewer=viewer, acts=[Act("made", "consent_form", person.pk, ("code_hash",)) for person in people])
    return made


def givers_with_a_form(*, viewer: Viewer) -> set[UUID]:
    """Who holds a form of this club whose code is still good."""
    rows = ConsentForm.objects.filter(club=viewer.club_id, used_at=None, good_until__gt=utc_now())
    return set(rows.values_list("giver_id", flat=True))


def end_forms(giver: Person) -> None:
    """No form of this person opens anything any more; in the caller's transaction."""
    end_codes(ConsentForm.objects.filter(giver=giver))


def form_by_code(*, typed: str, place: str) -> ConsentForm:
    """The form that a code opens. Raises Refused, in the same words, for one that is unknown, used, dead or too old."""
    form = _checked(typed, place)
    if form is None or not is_open(form, utc_now()):
        raise wrong_code()
    return form


def form_at_desk(*, viewer: Viewer, typed: str, place: str) -> ConsentForm:
    """The club's own form that an admin holds in hand, used or not: the signed paper is still to be seen."""
    form = _checked(typed, place) if viewer.role == Role.ADMIN else None
    if form is None or form.club_id != viewer.club_id:
        raise wrong_code()
    return form


def _checked(typed: str, place: str) -> ConsentForm | None:
    return row_by_code(ConsentForm.objects.select_related("club", "giver"), typed=typed, place=place)
