"""What a coach does at the end of a session: close it in one tap, leave a line, pass it on."""

from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from athletes.models.accounts import Role
from athletes.viewer import viewer_of
from sessions.access import get_led_session
from sessions.services.close_session import close_session, note_session, remove_note, reopen_session
from teamtrack.common.errors import Refused
from teamtrack.common.web.undo import offer_undo

MOST_PEOPLE = 99


class ClosingForm(forms.Form):
    """How many adults and visitors were counted."""

    adults = forms.IntegerField(min_value=0, max_value=MOST_PEOPLE)
    visitors = forms.IntegerField(min_value=0, max_value=MOST_PEOPLE, required=False)


class NoteForm(forms.Form):
    """A line about the session, whom it is passed on to, or which one is taken back."""

    text = forms.CharField(required=False, strip=False)
    to = forms.UUIDField(required=False)
    remove = forms.UUIDField(required=False)


@require_POST
def close(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """Close the session, and offer to undo it."""
    part = get_led_session(viewer_of(request, Role.COACH), session_id)
    form = ClosingForm(request.POST)
    if not form.is_valid():
        raise Refused("CHECK_FIELDS", _("Say how many adults are here, from 0 to 99. The session is not closed."))
    adults, visitors = form.cleaned_data["adults"], form.cleaned_data["visitors"] or 0
    close_session(part=part, adults=adults, visitors=visitors)
    address = reverse("session-reopen", args=[session_id])
    offer_undo(request, text=_("The session is closed."), action=address, fields={})
    return redirect("session-summary", session_id)


@require_POST
def reopen(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """Take the closing back."""
    reopen_session(part=get_led_session(viewer_of(request, Role.COACH), session_id))
    return redirect("session-summary", session_id)


@require_POST
def note(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """Leave a line, or take one's own back."""
    part = get_led_session(viewer_of(request, Role.COACH), session_id)
    form = NoteForm(request.POST)
    if not form.is_valid():
        raise Refused("CHECK_FIELDS", _("That step could not be read. Nothing was changed."))
    given = form.cleaned_data
    if given["remove"]:
        remove_note(part=part, note_id=given["remove"])
        return redirect("session-summary", session_id)
    made = note_session(part=part, text=given["text"], to=given["to"])
    address = reverse("session-note", args=[session_id])
    offer_undo(request, text=_("The note is kept."), action=address, fields={"remove": str(made.pk)})
    return redirect("session-summary", session_id)
