"""Who still has no sign-in, sheets to hand over, and a new sign-in by a guardian or by two people of the club."""

from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as __
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.models.accounts import Role
from athletes.selectors.sign_in_sheets import MAY_GIVE, child_to_help, open_asks, people_to_recover, without_sign_in
from athletes.services.clubs import set_second_factor_from
from athletes.services.sign_in_sheets import (
    Made,
    ask_recovery,
    give_recovery,
    make_for_child,
    make_missing,
    make_sheet,
    revoke_sheet,
)
from athletes.services.sign_ins import end_sign_ins_for
from athletes.services.staff import get_person
from athletes.viewer import Viewer, viewer_of
from athletes.web.step_up import proved
from teamtrack.common.errors import Refused


class DayForm(forms.Form):
    """From when on the second factor cannot be put off."""

    day = forms.DateField(
        label=_("From this day on, staff need a second factor"), widget=forms.DateInput({"type": "date"}, "%Y-%m-%d")
    )


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """Everybody who has no sign-in yet, with what to do."""
    return _page(request, viewer_of(request, Role.ADMIN))


def _page(request: HttpRequest, viewer: Viewer, form: DayForm | None = None, fault: str = "") -> HttpResponse:
    rows = without_sign_in(viewer)
    context = {
        "rows": rows,
        "missing": sum(one.sheet is None for one in rows),
        "zone": viewer.now.tzinfo,
        "form": form or DayForm(initial={"day": viewer.club.second_factor_from}),
        "fault": fault,
        "acting_role": Role.ADMIN.label,
    }
    is_refused = fault or (form is not None and form.errors)
    return render(request, "athletes/sign_in_sheets.html", context, status=400 if is_refused else 200)


@require_POST
@proved
def make(request: HttpRequest) -> HttpResponse:
    """A sheet for one person, to hand over or as a link; or for all that are missing."""
    viewer = viewer_of(request, Role.ADMIN)
    person_id, how = _id(request.POST.get("person", "")), request.POST.get("how", "")
    try:
        if how == "all":
            made = make_missing(viewer=viewer)
        elif person_id is not None and how in ("hand", "link"):
            made = [make_sheet(viewer=viewer, person_id=person_id, in_person=how == "hand")]
        else:
            raise Refused("CHECK_FIELDS", __("That could not be read. Nothing was made."))
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        return _page(request, viewer, fault=refusal.detail)
    if not made:
        messages.success(request, __("Everybody has a sign-in or a sheet that waits."))
        return redirect("sign-in-sheets")
    return _sheets(request, viewer, made, back=reverse("sign-in-sheets"), is_link=how == "link")


@require_POST
def revoke(request: HttpRequest, sheet_id: UUID) -> HttpResponse:
    """Make a sheet useless."""
    revoke_sheet(viewer=viewer_of(request, Role.ADMIN), sheet_id=sheet_id)
    messages.success(request, __("That sheet opens nothing any more."))
    return redirect("sign-in-sheets")


@require_POST
@proved
def factor_day(request: HttpRequest) -> HttpResponse:
    """From when on staff need a second factor."""
    viewer, form = viewer_of(request, Role.ADMIN), DayForm(request.POST)
    if not form.is_valid():
        return _page(request, viewer, form)
    set_second_factor_from(viewer=viewer, day=form.cleaned_data["day"])
    messages.success(request, __("Set."))
    return redirect("sign-in-sheets")


@require_http_methods(["GET", "HEAD", "POST"])
@proved
def for_child(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """A guardian makes a sheet for a child."""
    viewer = viewer_of(request, Role.GUARDIAN)
    child = child_to_help(viewer, athlete_id)
    if request.method != "POST":
        shown = {"child": child, "acting_role": Role.GUARDIAN.label}
        return render(request, "athletes/child_sheet.html", shown)
    made = [make_for_child(viewer=viewer, athlete_id=athlete_id)]
    return _sheets(request, viewer, made, back=reverse("family"))


@require_POST
@proved
def end_for(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """A phone is lost: every sign-in of its owner ends."""
    viewer = viewer_of(request, Role.ADMIN)
    person = get_person(viewer, person_id)
    try:
        ended = end_sign_ins_for(viewer=viewer, person=person)
    except Refused as refusal:
        messages.error(request, refusal.detail)
    else:
        said = ngettext("%(count)d sign-in was ended.", "%(count)d sign-ins were ended.", ended) % {"count": ended}
        messages.success(request, said if ended else __("Nobody was signed in there: nothing was changed."))
    return redirect("staff-person" if request.POST.get("page") == "staff" else "person-record", person.pk)


@require_safe
def recovery(request: HttpRequest, staff: str) -> HttpResponse:
    """Who cannot sign in any more: ask for a new sign-in, or give it where another has asked."""
    viewer = viewer_of(request, staff)
    asks = open_asks(viewer)
    context = {
        "people": people_to_recover(viewer),
        "asks": [(ask, viewer.role in MAY_GIVE and ask.asked_by_id != viewer.person_id) for ask in asks],
        "staff": staff,
        "acting_role": Role(staff).label,
    }
    return render(request, "athletes/recovery.html", context)


@require_POST
@proved
def recovery_ask(request: HttpRequest, staff: str) -> HttpResponse:
    """The first of the two."""
    viewer, person_id = viewer_of(request, staff), _id(request.POST.get("person", ""))
    if person_id is None:
        people_to_recover(viewer)
        messages.error(request, __("Choose who cannot sign in. Nothing was asked."))
        return redirect("recovery", staff)
    ask_recovery(viewer=viewer, person_id=person_id)
    messages.success(request, __("Asked. Within a day an admin or the welfare lead, somebody else than you, gives it."))
    return redirect("recovery", staff)


@require_POST
@proved
def recovery_give(request: HttpRequest, staff: str, ask_id: UUID) -> HttpResponse:
    """The second: the sheet, handed over in person."""
    viewer = viewer_of(request, staff)
    made = give_recovery(viewer=viewer, ask_id=ask_id, lifts_factor=request.POST.get("lifts") == "yes")
    return _sheets(request, viewer, [made], back=reverse("recovery", args=[staff]))


def _sheets(
    request: HttpRequest, viewer: Viewer, made: list[Made], *, back: str, is_link: bool = False
) -> HttpResponse:
    place = request.build_absolute_uri(reverse("sheet"))
    sheets = [
        {
            "sheet": sheet, "code": code.shown, "address": f"{place}#{code.shown}",
            "until": sheet.good_until.astimezone(viewer.now.tzinfo),
        }
        for sheet, code in made
    ]  # fmt: skip
    context = {
        "sheets": sheets, "place": place, "back": back, "is_link": is_link, "printed_by": viewer.person,
        "today": viewer.today, "acting_role": Role(viewer.role).label,
    }  # fmt: skip
    return render(request, "athletes/sign_in_paper.html", context)


def _id(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
