"""A guardian's page of the numbers to ring about the own child, and who may collect it."""

from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from athletes.models import ContactNumber
from athletes.models.accounts import Role
from athletes.selectors.contacts import contacts
from athletes.services.contacts import remove_contact, save_contact
from athletes.viewer import Viewer, viewer_of
from teamtrack.common.errors import Refused
from teamtrack.common.web.forms import TypedForm
from teamtrack.common.web.undo import offer_undo


class ContactForm(TypedForm):
    """Whom to ring, on which number, and whether they may collect the child."""

    name = "contact"
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    who = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    relation = forms.CharField(
        label=gettext_lazy("Who that is to the athlete"), max_length=60, help_text=gettext_lazy("mother, neighbour")
    )
    phone = forms.RegexField(
        r"^[+0-9 ()/.\-]{3,30}$", label=gettext_lazy("Number to ring"), max_length=30,
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
        error_messages={"invalid": gettext_lazy("Digits, spaces and + alone, for example +353 1 555 0100.")},
    )  # fmt: skip
    order = forms.IntegerField(label=gettext_lazy("Ring as number"), min_value=1, max_value=9, initial=1)
    may_collect = forms.BooleanField(label=gettext_lazy("May collect the child"), required=False)


class WhichForm(forms.Form):
    """Which number."""

    id = forms.UUIDField()


@require_safe
def page(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Whom does the club ring, and who may collect?"""
    return _page(request, viewer_of(request, Role.GUARDIAN), athlete_id)


@require_POST
def save(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Add a number, or change one."""
    viewer = viewer_of(request, Role.GUARDIAN)
    contacts(viewer, athlete_id)
    form = ContactForm(request.POST)
    done, row = form.tried(
        lambda given: save_contact(
            viewer=viewer, athlete_id=athlete_id, contact_id=given["id"], name=given["who"],
            relation=given["relation"], phone=given["phone"], order=given["order"], may_collect=given["may_collect"],
        )
    )  # fmt: skip
    if not done or row is None:
        return _page(request, viewer, athlete_id, form)
    messages.success(request, _("Kept: %(name)s.") % {"name": row.name})
    return redirect("guardian-contacts", athlete_id)


@require_POST
def remove(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Take a number away, and offer to put it back."""
    viewer = viewer_of(request, Role.GUARDIAN)
    contacts(viewer, athlete_id)
    form = WhichForm(request.POST)
    if not form.is_valid():
        raise Refused("CHECK_FIELDS", _("That step could not be read. Nothing was changed."))
    row = remove_contact(viewer=viewer, athlete_id=athlete_id, contact_id=form.cleaned_data["id"])
    offer_undo(
        request,
        text=_("%(name)s is taken away.") % {"name": row.name},
        action=reverse("guardian-contact-save", args=[athlete_id]),
        fields=_fields(row),
    )
    return redirect("guardian-contacts", athlete_id)


def _fields(row: ContactNumber) -> dict[str, str]:
    """A number as its form posts it, for putting it back."""
    fields = {"who": row.name, "relation": row.relation, "phone": row.phone, "order": str(row.order)}
    return fields | ({"may_collect": "on"} if row.may_collect else {})


def _page(request: HttpRequest, viewer: Viewer, athlete_id: UUID, typed: ContactForm | None = None) -> HttpResponse:
    found = contacts(viewer, athlete_id)
    context = {
        "found": found,
        "rows": [(row, _form_of(row, typed)) for row in found.numbers],
        "new": typed if typed and not typed.data.get("id") else ContactForm(initial={"order": len(found.numbers) + 1}),
        "save_place": reverse("guardian-contact-save", args=[athlete_id]),
        "remove_place": reverse("guardian-contact-remove", args=[athlete_id]),
        "acting_role": Role.GUARDIAN.label,
    }
    return render(request, "athletes/contacts.html", context, status=typed.status if typed else 200)


def _form_of(row: ContactNumber, typed: ContactForm | None) -> ContactForm:
    """What was typed about a number, else what it is; its ids are its own."""
    is_typed = typed is not None and str(typed.data.get("id")) == str(row.pk)
    now = {"id": row.pk, "who": row.name, "relation": row.relation, "phone": row.phone, "order": row.order}
    form = typed if typed is not None and is_typed else ContactForm(initial=now | {"may_collect": row.may_collect})
    form.auto_id = f"{row.pk}-%s"
    return form
