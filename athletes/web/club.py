"""The admin's page of what the whole club goes by: emergency number, whom to tell about pain, adults at a session."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from athletes.models import Club
from athletes.models.accounts import Role
from athletes.services.clubs import set_club
from athletes.viewer import viewer_of
from teamtrack.common.web.forms import TypedForm
from teamtrack.common.web.undo import offer_undo


class ClubForm(TypedForm):
    """The club's own numbers and words."""

    name = "club"
    adults_required = forms.IntegerField(
        label=gettext_lazy("Adults at every session"), min_value=1, max_value=9,
        help_text=gettext_lazy("Counted is who is 18 or over with a background check in date. Two is usual: nobody is "
                               "alone with a child. Your sport body's rule comes first."),
    )  # fmt: skip
    emergency_number = forms.RegexField(
        r"^[0-9 ]{2,20}$", label=gettext_lazy("Emergency number"), max_length=20,
        help_text=gettext_lazy("Shown beside the track for chest, breath, head and heat."),
        error_messages={"invalid": gettext_lazy("Digits alone, for example 112.")},
    )  # fmt: skip
    health_contact = forms.CharField(
        label=gettext_lazy("Whom to tell about pain in person"), max_length=120, required=False,
        help_text=gettext_lazy("Said where nothing about health may be kept, for example: the welfare lead."),
    )  # fmt: skip
    distance_unit = forms.ChoiceField(label=gettext_lazy("Runs are told in"), choices=Club.Distance.choices)


@require_http_methods(["GET", "POST"])
def page(request: HttpRequest) -> HttpResponse:
    """What does the club go by?"""
    viewer = viewer_of(request, Role.ADMIN)
    now: dict[str, Any] = {name: getattr(viewer.club, name) for name in ClubForm.base_fields}
    form = ClubForm(request.POST or None, initial=now)
    if request.method == "POST":
        done, is_changed = form.tried(lambda given: set_club(viewer=viewer, **given))
        if done:
            if is_changed:
                offer_undo(request, text=_("Kept for the whole club."), action=reverse("club"), fields=_posted(now))
            return redirect("club")
    context = {"form": form, "acting_role": Role.ADMIN.label}
    return render(request, "athletes/club.html", context, status=form.status)


def _posted(values: dict[str, Any]) -> dict[str, str]:
    return {name: str(value) for name, value in values.items()}
