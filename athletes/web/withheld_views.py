"""The welfare lead's page: withhold a minor's data from one guardian, give the view back."""

from collections.abc import Callable

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from athletes.models.accounts import Role
from athletes.selectors.withheld_views import withheld_views
from athletes.services.withhold_view import give_view_back, withhold_view
from athletes.viewer import Viewer, viewer_of
from athletes.web.step_up import proved
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo


class PairForm(forms.Form):
    """Of which athlete, from which guardian."""

    athlete_id = forms.UUIDField()
    guardian_id = forms.UUIDField()

    def __init__(self, data: object) -> None:
        """`pair`: both ids in one field, as a list of choices sends them."""
        given = dict(data.items())  # type: ignore[attr-defined]
        if ":" in given.get("pair", ""):
            given["athlete_id"], given["guardian_id"] = given["pair"].split(":", 1)
        super().__init__(given)


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """From whom is something withheld, and from whom should it be?"""
    return _page(request, viewer_of(request, Role.WELFARE))


@require_POST
@proved
def withhold(request: HttpRequest) -> HttpResponse:
    """Withhold a minor's data from one guardian, and offer to undo it."""
    said, undo = _("Withheld. It acts at once, on every page and address."), "view-give-back"
    return _did(request, withhold_view, said, undo)


@require_POST
@proved
def give_back(request: HttpRequest) -> HttpResponse:
    """Give a guardian's view back, and offer to undo it."""
    return _did(request, give_view_back, _("The guardian sees again what the rules allow."), "view-withhold")


def _did(request: HttpRequest, act: Callable[..., None], said: str, undo: str) -> HttpResponse:
    viewer, form = viewer_of(request, Role.WELFARE), PairForm(request.POST)
    if not form.is_valid():
        return _page(request, viewer, _("Choose whose data, and from which guardian. Nothing was changed."))
    try:
        act(viewer=viewer, **form.cleaned_data)
    except NotFound:
        raise
    except Refused as refusal:
        return _page(request, viewer, refusal.detail)
    fields = {name: str(value) for name, value in form.cleaned_data.items()}
    offer_undo(request, text=said, action=reverse(undo), fields=fields)
    return redirect("withheld-views")


def _page(request: HttpRequest, viewer: Viewer, fault: str = "") -> HttpResponse:
    context = {"views": withheld_views(viewer), "fault": fault, "acting_role": Role.WELFARE.label}
    return render(request, "athletes/withheld_views.html", context, status=400 if fault else 200)
