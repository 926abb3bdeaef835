"""Cautions of the day, said by a coach in one tap: thunder, heat; taken back where it was a slip."""

from datetime import timedelta
from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from athletes.models.accounts import Role
from athletes.viewer import viewer_of
from sessions.access import get_led_session
from sessions.models import Caution
from sessions.services.say_caution import Kept, say_caution, take_back_caution, take_back_kept
from teamtrack.common.web.undo import offer_undo

MOST_AGO_S = 24 * 3600
ADDRESSES = {"head_coach": "head-coach", "coach": "coach"}


@require_POST
def say(request: HttpRequest, role: str, kind: str) -> HttpResponse:
    """Thunder was heard, or it is hot."""
    caution = say_caution(viewer=viewer_of(request, role), kind=kind)
    text = _("Thunder: everybody in. The half hour counts from now.")
    text = text if kind == Caution.Kind.THUNDER else _("Heat: everybody reads the caution today.")
    action = reverse(f"{ADDRESSES[role]}-caution-back", args=[caution.pk])
    offer_undo(request, text=text, action=action, fields={})
    return redirect("today")


class BesideForm(forms.Form):
    """Thunder as a phone beside the straight kept it: its id, how long ago it was heard, or that it was a slip."""

    id = forms.UUIDField()
    ago_s = forms.IntegerField(min_value=0, max_value=MOST_AGO_S)
    back = forms.BooleanField(required=False)


@require_POST
def say_beside(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """Thunder was heard beside the straight, told once there was signal; told again it is the same one."""
    viewer = viewer_of(request, Role.COACH)
    get_led_session(viewer, session_id)
    form = BesideForm(request.POST)
    if not form.is_valid():
        return HttpResponseBadRequest()
    given = form.cleaned_data
    kept = Kept(given["id"], timedelta(seconds=given["ago_s"]))
    if given["back"]:
        take_back_kept(viewer=viewer, kept=kept)
    else:
        say_caution(viewer=viewer, kind=Caution.Kind.THUNDER, kept=kept)
    return HttpResponse(status=204)


@require_POST
def take_back(request: HttpRequest, role: str, caution_id: UUID) -> HttpResponse:
    """It was a slip."""
    take_back_caution(viewer=viewer_of(request, role), caution_id=caution_id)
    return redirect("today")
