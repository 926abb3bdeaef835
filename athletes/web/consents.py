"""The admin's consents: who still answers what, the evening desk, printed forms, and the rules to confirm."""

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.core.form_codes import FormCode
from athletes.models import ConsentForm, PermissionEvent, RulesConfirmed, Wording
from athletes.models.accounts import Role
from athletes.models.permissions import Purpose
from athletes.selectors.consent_form import form_of, rule_book
from athletes.selectors.roster import checks_running_out
from athletes.selectors.signatures import Signer, answers_by_link, blocked_purposes, signer_of, signers
from athletes.selectors.todo import coming_of_age_list, open_wishes
from athletes.services.consents import (
    confirm_rules,
    enter_paper,
    remind_all,
    see_form,
    take_back_papers,
)
from athletes.services.form_codes import form_at_desk, givers_with_a_form, make_form, make_forms
from athletes.services.heard_answers import Signed
from athletes.services.wordings import write_wording
from athletes.viewer import Viewer, viewer_of
from athletes.web.step_up import proved
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.address import place_of
from teamtrack.common.web.undo import offer_undo

PURPOSE_WORDS = {
    Purpose.RECORD: gettext_lazy("membership"),
    Purpose.HEALTH: gettext_lazy("pain notes"),
    Purpose.SHARE: gettext_lazy("other coaches"),
    Purpose.FEED: gettext_lazy("calendar address"),
}
MOST_AT_ONCE = 40
"""Forms that one press prints: a few seconds of hashing codes, one stack of paper."""


class PersonForm(forms.Form):
    """Whose form it is."""

    person = forms.UUIDField()


class RulesForm(forms.Form):
    """Which rule book, and who stands for it."""

    book = forms.ChoiceField(
        choices=RulesConfirmed.Book.choices, widget=forms.RadioSelect, label=gettext_lazy("Which rules hold here?")
    )
    by_name = forms.CharField(max_length=120, label=gettext_lazy("Who of the club has read them?"))


class WordingForm(forms.Form):
    """A new version of a question; whether its meaning changes."""

    purpose = forms.CharField(max_length=12)
    child_level = forms.BooleanField(required=False)
    question = forms.CharField(max_length=300)
    explanation = forms.CharField(max_length=2000)
    change = forms.ChoiceField(choices=Wording.Change.choices)


@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    """Fewest signatures that close most; then who comes of age, whose checks run out, who wishes a stop."""
    return _overview(request, viewer_of(request, Role.ADMIN))


def _overview(request: HttpRequest, viewer: Viewer, fault: str = "", *, status: int = 200) -> HttpResponse:
    rows = signers(viewer)
    context = {
        "fault": fault,
        "typed": request.POST.get("code", ""),
        "rows": [(row, _said(row)) for row in rows],
        "to_print": len(_to_print(viewer, rows, anew=False)),
        "to_print_anew": len(_to_print(viewer, rows, anew=True)),
        "most_at_once": MOST_AT_ONCE,
        "questions": blocked_purposes(rows),
        "of_age": coming_of_age_list(viewer),
        "checks": checks_running_out(viewer),
        "wishes": open_wishes(viewer),
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/consents.html", context, status=status)


@require_POST
@proved
def seen(request: HttpRequest) -> HttpResponse:
    """The signed form of one family was seen: one tap."""
    viewer = viewer_of(request, Role.ADMIN)
    form = PersonForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("That could not be read. Nothing was changed."))
        return redirect("consents")
    try:
        events = see_form(viewer=viewer, person_id=form.cleaned_data["person"])
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        messages.error(request, refusal.detail)
        return redirect("consents")
    return _done(request, events)


@require_POST
def unseen(request: HttpRequest) -> HttpResponse:
    """Undo what was just entered."""
    viewer = viewer_of(request, Role.ADMIN)
    ids = _uuids(request.POST.get("events", "").split(","))
    if not ids:
        messages.error(request, _("That could not be read. Nothing was changed."))
        return redirect("consents")
    try:
        take_back_papers(viewer=viewer, event_ids=ids)
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        messages.error(request, refusal.detail)
    return redirect("consents")


@require_POST
def by_code(request: HttpRequest) -> HttpResponse:
    """The code of a signed paper, typed at the desk: leads to the form of whoever signed it."""
    viewer = viewer_of(request, Role.ADMIN)
    try:
        form = form_at_desk(viewer=viewer, typed=request.POST.get("code", "")[:60], place=place_of(request))
    except NotFound:
        raise
    except Refused as refusal:
        return _overview(request, viewer, refusal.detail, status=refusal.status)
    if not any(row.person.pk == form.giver_id for row in signers(viewer)):
        messages.success(request, _("Nothing waits for %(name)s any more.") % {"name": form.giver.full_name})
        return redirect("consents")
    return redirect("consents-family", form.giver_id)


@require_http_methods(["GET", "HEAD", "POST"])
def print_form(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """A form for one person with a new code, which is shown this once; the one before opens nothing any more.

    Whoever comes back to the address is led to where forms are made.
    """
    viewer = viewer_of(request, Role.ADMIN)
    if request.method != "POST":
        return redirect("consents-family", signer_of(viewer, person_id).person.pk)
    try:
        form, code = make_form(viewer=viewer, person_id=person_id)
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        return _family_page(request, viewer, person_id, refusal.detail)
    return _paper(
        request, viewer, [(signer_of(viewer, person_id), form, code)], reverse("consents-family", args=[person_id])
    )


@require_http_methods(["GET", "HEAD", "POST"])
def print_forms(request: HttpRequest) -> HttpResponse:
    """The forms of an evening at once, a page for each who signs: those who hold none yet, or all anew.

    So many at once that the page is there in a few seconds; the next press prints the next.
    """
    viewer = viewer_of(request, Role.ADMIN)
    if request.method != "POST":
        return redirect("consents")
    rows = _to_print(viewer, signers(viewer), anew="anew" in request.POST)[:MOST_AT_ONCE]
    if not rows:
        messages.success(request, _("Everybody who has to sign holds a form already."))
        return redirect("consents")
    try:
        made = make_forms(viewer=viewer, people=[row.person for row in rows])
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        return _overview(request, viewer, refusal.detail, status=refusal.status)
    sheets = [(row, form, code) for row, (form, code) in zip(rows, made, strict=True)]
    return _paper(request, viewer, sheets, reverse("consents"))


def _to_print(viewer: Viewer, rows: Sequence[Signer], *, anew: bool) -> list[Signer]:
    """Whoever still has to put pen to paper, by name, as forms are handed out."""
    holding = set() if anew else givers_with_a_form(viewer=viewer)
    found = [row for row in rows if row.person.pk not in holding and not row.is_seen_in_one_tap]
    return sorted(found, key=lambda row: (row.person.family_name, row.person.given_name, str(row.person.pk)))


def _paper(
    request: HttpRequest, viewer: Viewer, sheets: Sequence[tuple[Signer, ConsentForm, FormCode]], back: str
) -> HttpResponse:
    place = request.build_absolute_uri(reverse("form-by-code"))
    context = {
        "sheets": [
            {
                "signer": signer,
                "questions": _by_wording(form_of(viewer=viewer, signer=signer)),
                "code": code.shown,
                "address": f"{place}#{code.shown}",
                "good_until": form.good_until.astimezone(viewer.now.tzinfo),
            }
            for signer, form, code in sheets
        ],
        "place": place,
        "back": back,
        "printed_by": viewer.person,
        "today": viewer.today,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/consent_paper.html", context)


def _by_wording(lines: Sequence[dict[str, Any]]) -> list[tuple[Wording, list[dict[str, Any]]]]:
    """Each question once, with the children whom it is about under it: a family's form fits one sheet."""
    found: dict[UUID, tuple[Wording, list[dict[str, Any]]]] = {}
    for line in lines:
        found.setdefault(line["wording"].pk, (line["wording"], []))[1].append(line)
    return list(found.values())


@require_POST
def remind(request: HttpRequest) -> HttpResponse:
    """Remind everybody who may be reminded: two reminders each, in daytime, never a third."""
    count = remind_all(viewer=viewer_of(request, Role.ADMIN))
    said = ngettext("%(count)d person is reminded.", "%(count)d people are reminded.", count) % {"count": count}
    messages.success(request, said + " " + _("Between 21:00 and 08:00 it waits for the morning."))
    return redirect("consents")


@require_safe
def family(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """The form of one person: to print and sign, and to type in what was signed."""
    return _family_page(request, viewer_of(request, Role.ADMIN), person_id)


@require_POST
@proved
def typed(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """What the signed paper says, one yes or no a question; what is left empty stays open."""
    viewer = viewer_of(request, Role.ADMIN)
    signer = signer_of(viewer, person_id)
    signed = said_on_form(request.POST, signer)
    try:
        events = enter_paper(viewer=viewer, giver=signer.person, signed=signed, witness=request.POST.get("witness", ""))
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        return _family_page(request, viewer, person_id, refusal.detail)
    return _done(request, events)


@require_safe
def rules(request: HttpRequest) -> HttpResponse:
    """The rule books, the ages with their sources, the wordings; who confirmed them."""
    return _rules_page(request, viewer_of(request, Role.ADMIN), RulesForm())


@require_POST
@proved
def confirm(request: HttpRequest) -> HttpResponse:
    """A named person of the club stands for them."""
    viewer = viewer_of(request, Role.ADMIN)
    form = RulesForm(request.POST)
    if not form.is_valid():
        return _rules_page(request, viewer, form, status=400)
    confirm_rules(viewer=viewer, **form.cleaned_data)
    messages.success(request, _("Confirmed. You can change it here at any time."))
    return redirect("rules")


@require_POST
@proved
def new_wording(request: HttpRequest) -> HttpResponse:
    """A new version of a question: both stand side by side; a change in meaning asks everybody anew."""
    viewer = viewer_of(request, Role.ADMIN)
    form = WordingForm(request.POST)
    if not form.is_valid():
        return _rules_page(request, viewer, RulesForm(), 400, _("Write the question and what it means."), request.POST)
    given = form.cleaned_data
    is_material = given.pop("change") == Wording.Change.MATERIAL
    try:
        wording = write_wording(viewer=viewer, is_material=is_material, **given)
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        return _rules_page(request, viewer, RulesForm(), 400, refusal.detail, request.POST)
    messages.success(request, _("Version %(version)d is in force.") % {"version": wording.version})
    return redirect("rules")


def _said(row: Signer) -> list[tuple[str, str]]:
    """By child: what waits."""
    found: dict[str, list[str]] = {}
    for one in row.missing:
        found.setdefault(one.athlete.full_name, []).append(str(PURPOSE_WORDS[Purpose(one.purpose)]))
    return [(name, ", ".join(words)) for name, words in found.items()]


def _done(request: HttpRequest, events: list[PermissionEvent]) -> HttpResponse:
    offer_undo(
        request,
        text=_("%(name)s: form seen") % {"name": events[0].giver.full_name},
        action=reverse("consents-unseen"),
        fields={"events": ",".join(str(event.pk) for event in events)},
    )
    return redirect("consents")


def _uuids(texts: list[str]) -> list[UUID]:
    found = []
    for text in texts:
        try:
            found.append(UUID(text))
        except ValueError:
            continue
    return found


def said_on_form(data: QueryDict, signer: Signer) -> list[Signed]:
    """What a form says, one yes or no a question; what is left empty is no answer."""
    return [
        Signed(one.athlete, one.purpose, said, tuple(_uuids(data.getlist(f"{one.athlete.pk} coaches"))))
        for one in signer.missing
        if (said := data.get(f"{one.athlete.pk} {one.purpose}")) in ("yes", "no")
    ]


def lines_with_what_was_said(lines: Sequence[Mapping[str, Any]], data: QueryDict) -> list[dict[str, Any]]:
    """The questions, each with what was chosen before a fault."""
    return [
        {
            **line,
            "said": data.get(f"{line['athlete'].pk} {line['purpose']}", ""),
            "chosen": data.getlist(f"{line['athlete'].pk} coaches"),
        }
        for line in lines
    ]


def _family_page(request: HttpRequest, viewer: Viewer, person_id: UUID, fault: str = "") -> HttpResponse:
    signer = signer_of(viewer, person_id)
    context = {
        "signer": signer,
        "lines": lines_with_what_was_said(form_of(viewer=viewer, signer=signer), request.POST),
        "by_link": answers_by_link(viewer=viewer, giver=signer.person),
        "fault": fault,
        "witness": request.POST.get("witness", ""),
        "today": viewer.today,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/consent_form.html", context, status=400 if fault else 200)


def _rules_page(
    request: HttpRequest,
    viewer: Viewer,
    form: RulesForm,
    status: int = 200,
    fault: str = "",
    typed: Mapping[str, str] | None = None,
) -> HttpResponse:
    """`typed` is a wording that was not taken: it stays in its form."""
    context = {"form": form, "fault": fault, "typed": typed, "acting_role": Role.ADMIN.label} | rule_book(viewer)
    return render(request, "athletes/rules.html", context, status=status)
