"""The admin's page of one person's record: put it right, see what was changed, undo."""

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.core import signing
from django.core.validators import RegexValidator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from athletes.models import Correction, Guardianship
from athletes.models.accounts import Role
from athletes.selectors.person_record import PersonRecord, corrections_of, person_record
from athletes.selectors.sign_in_sheets import open_sign_ins
from athletes.services.corrections import (
    COLUMNS,
    Corrected,
    Wanted,
    correct_record,
    read_values,
    still_stands,
    stored_values,
    undo_correction,
    values_of,
)
from athletes.viewer import Viewer, viewer_of
from athletes.web.consents import PURPOSE_WORDS
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo

What = Correction.What
SHOWN = "record-shown"
COUNTRY = RegexValidator("^[A-Z]{2}$", gettext_lazy("Two capital letters, for example IE."))


def _day(label: Any, help_text: Any = "") -> forms.DateField:
    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date", "autocomplete": "off"})
    return forms.DateField(label=label, help_text=help_text, required=False, widget=widget)


def _text(label: Any, length: int, *, required: bool = True, help_text: Any = "") -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off"})
    return forms.CharField(label=label, max_length=length, required=required, help_text=help_text, widget=widget)


class PersonForm(forms.Form):
    """Who somebody is, and how they are reached."""

    given_name = _text(gettext_lazy("Given name"), 60)
    family_name = _text(gettext_lazy("Family name"), 60)
    birth_date = _day(gettext_lazy("Birth date"), gettext_lazy("Left empty, the rules for a nine-year-old hold."))
    home_country = forms.CharField(
        label=gettext_lazy("Country of the home, where it is another"), max_length=2, required=False,
        validators=[COUNTRY], help_text=gettext_lazy("Two capital letters, for example IE."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    email = forms.EmailField(
        label=gettext_lazy("E-mail"), required=False, widget=forms.EmailInput(attrs={"autocomplete": "off"})
    )
    phone = _text(gettext_lazy("Phone"), 30, required=False)


class ContactForm(forms.Form):
    """A number to ring about an athlete."""

    name = _text(gettext_lazy("Name"), 120)
    relation = _text(gettext_lazy("What they are to the athlete"), 60)
    phone = _text(gettext_lazy("Phone"), 30)
    may_collect = forms.BooleanField(label=gettext_lazy("May collect"), required=False)


class GuardianForm(forms.Form):
    """With which authority, by the papers that were seen, and until when."""

    authority = forms.ChoiceField(
        label=gettext_lazy("Authority, by the papers seen"), choices=Guardianship.Authority.choices
    )
    papers_seen_on = _day(gettext_lazy("Papers seen on"), gettext_lazy("The day alone is kept, and that it was you."))
    last_day = _day(gettext_lazy("Last day, where it has one"))


FORMS: dict[str, type[forms.Form]] = {
    What.PERSON: PersonForm, What.CONTACT: ContactForm, What.GUARDIAN: GuardianForm,
}  # fmt: skip
LABELS = {(what, name): form.base_fields[name].label for what, form in FORMS.items() for name in COLUMNS[What(what)]}


class ChangeForm(forms.Form):
    """Which row, of which kind, and whether it goes."""

    what = forms.ChoiceField(choices=What.choices)
    row = forms.UUIDField(required=False)
    request = forms.UUIDField(required=False)
    shown = forms.CharField(required=False)
    remove = forms.CharField(required=False)


@require_safe
def page(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """One person's record; `?request=` is the request for which it is put right."""
    return _page(request, viewer_of(request, Role.ADMIN), person_id, _uuid(request.GET.get("request", "")))


@require_POST
def change(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Put one row right."""
    viewer = viewer_of(request, Role.ADMIN)
    asked = ChangeForm(request.POST)
    person_record(viewer, person_id)
    if not asked.is_valid():
        return _page(request, viewer, person_id, None, fault=_("That could not be read. Nothing was changed."))
    given = asked.cleaned_data
    form = None if given["remove"] else FORMS[given["what"]](request.POST, prefix=_prefix(given["row"]))
    if form is not None and not form.is_valid():
        fault = _("Something is missing or wrong: see the fields. Nothing was changed.")
        return _page(request, viewer, person_id, given["request"], fault=fault, form=form, row=given["row"])
    typed = None if form is None else form.cleaned_data
    wanted = Wanted(given["what"], given["row"], _signed(given["shown"]), typed)
    try:
        done = correct_record(viewer=viewer, person_id=person_id, wanted=wanted, request_id=given["request"])
    except NotFound:
        raise
    except Refused as refusal:
        return _page(
            request, viewer, person_id, given["request"], fault=refusal.detail, form=form, row=given["row"],
            status=refusal.status,
        )  # fmt: skip
    return _done(request, person_id, done, given["request"])


@require_POST
def undo(request: HttpRequest, person_id: UUID, correction_id: UUID) -> HttpResponse:
    """Let stand again what stood before."""
    viewer = viewer_of(request, Role.ADMIN)
    try:
        done = undo_correction(viewer=viewer, correction_id=correction_id)
    except NotFound:
        raise
    except Refused as refusal:
        return _page(request, viewer, person_id, None, fault=refusal.detail, status=refusal.status)
    return _done(request, person_id, done, None)


def _done(request: HttpRequest, person_id: UUID, done: Corrected | None, request_id: UUID | None) -> HttpResponse:
    address = reverse("person-record", args=[person_id]) + (f"?request={request_id}" if request_id else "")
    if done is None:
        return redirect(address)
    offer_undo(
        request,
        text=_("Changed: %(what)s")
        % {"what": ", ".join(str(label) for label, _was, _now in change_words(done.correction))},
        action=reverse("person-undo", args=[person_id, done.correction.pk]),
        fields={},
    )
    for purposes, text in (
        (done.closed, _("From now on nobody uses this any more, until it is answered anew: %(what)s.")),
        (done.opened, _("What was answered before holds for this again: %(what)s.")),
    ):
        if purposes:
            messages.warning(request, text % {"what": ", ".join(str(PURPOSE_WORDS[one]) for one in sorted(purposes))})
    return redirect(address)


def change_words(row: Correction) -> list[tuple[object, str, str]]:
    """What was changed: the label, what stood there, what stands there."""
    before, after = read_values(row.before or {}), read_values(row.after or {})
    names = [name for name in COLUMNS[What(row.what)] if name in before or name in after]
    return [(LABELS[row.what, name], _said(name, before.get(name)), _said(name, after.get(name))) for name in names]


def _said(name: str, value: Any) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, date):
        return date_format(value, "j M Y")
    if name == "authority" and value:
        return str(Guardianship.Authority(value).label)
    return str(value) if value else "–"


def _page(
    request: HttpRequest, viewer: Viewer, person_id: UUID, request_id: UUID | None, *, fault: str = "",
    form: forms.Form | None = None, row: UUID | None = None, status: int = 400,
) -> HttpResponse:  # fmt: skip
    """The record; `form` is what was typed for `row`, and stays where it was not taken."""
    record = person_record(viewer, person_id, request_id=request_id)

    def shown(what: str, one: Any) -> tuple[Any, forms.Form, str]:
        values = values_of(what, one)
        is_typed = form is not None and row == one.pk
        made = form if is_typed else FORMS[what](initial=values, prefix=_prefix(one.pk))
        return one, made, signing.dumps(stored_values(values), salt=SHOWN)

    is_new_typed = form is not None and row is None and isinstance(form, ContactForm)
    context = {
        "record": record,
        "person": shown(What.PERSON, record.person),
        "numbers": [shown(What.CONTACT, one) for one in record.numbers],
        "new_number": form if is_new_typed else ContactForm(prefix=_prefix(None)),
        "guardians": [shown(What.GUARDIAN, one) for one in record.guardians],
        "changes": _changes(viewer, record),
        "sign_ins": open_sign_ins(viewer, record.person),
        "is_self": record.person.pk == viewer.person_id,
        "fault": fault,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/person_record.html", context, status=status if fault else 200)


def _changes(viewer: Viewer, record: PersonRecord) -> list[tuple[Correction, list[tuple[object, str, str]], bool]]:
    """What was changed before, each with whether it can be undone: while the row is as the change left it."""
    rows = [(What.PERSON, record.person), *((What.CONTACT, one) for one in record.numbers)]
    rows += [(What.GUARDIAN, one) for one in record.guardians]
    now: Mapping[UUID, dict[str, Any]] = {one.pk: values_of(what, one) for what, one in rows}
    return [(one, change_words(one), still_stands(one, now.get(one.row))) for one in corrections_of(viewer, record)]


def _signed(text: str) -> dict[str, Any] | None:
    """What the page showed, as the page says itself; nothing where that is missing or not ours."""
    try:
        return read_values(signing.loads(text, salt=SHOWN))
    except signing.BadSignature:
        return None


def _prefix(row: UUID | None) -> str:
    return row.hex if row else "new"


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
