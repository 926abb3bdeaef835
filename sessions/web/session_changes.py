"""Calls a training session off, or on again, and gives it to another coach, in two taps or three."""

from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST

from athletes.viewer import Viewer, viewer_of
from sessions.access import get_session_to_run
from sessions.models import Notice, TrainingSession
from sessions.selectors.cover import cover_of
from sessions.selectors.session_concerns import told_of_session
from sessions.services.call_off import call_off_session, call_on_session
from sessions.services.give_session import give_session
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo

ADDRESSES = {"head_coach": "head-coach", "coach": "coach"}
REASONS = (
    ("", _("Say no reason")),
    ("weather", _("Weather")),
    ("place", _("The place is closed")),
    ("adults", _("Too few adults")),
)


class CallOffForm(forms.Form):
    """A reason that everybody on the session reads, or none."""

    reason = forms.ChoiceField(choices=REASONS, required=False, widget=forms.RadioSelect, label=_("Reason"))

    @property
    def words(self) -> str:
        chosen = self.cleaned_data["reason"]
        return str(dict(REASONS)[chosen]) if chosen else ""


class GiveForm(forms.Form):
    """From whom to whom."""

    from_coach = forms.UUIDField()
    to_coach = forms.UUIDField(error_messages={"required": _("Choose a coach.")})


@require_http_methods(["GET", "POST"])
def call_off(request: HttpRequest, role: str, session_id: UUID) -> HttpResponse:
    """Whom calling off reaches; then do it, at once."""
    viewer = viewer_of(request, role)
    form = CallOffForm(request.POST or None, initial={"reason": ""})
    if request.method == "GET" or not form.is_valid():
        return _call_off_page(request, viewer, get_session_to_run(viewer, session_id), form)
    try:
        people = call_off_session(viewer=viewer, session_id=session_id, words=form.words)
    except NotFound:
        raise
    except Refused as refusal:
        return _call_off_page(request, viewer, get_session_to_run(viewer, session_id), form, refusal)
    text = ngettext("Called off: %(count)d person is told.", "Called off: %(count)d people are told.", people)
    action = reverse(f"{ADDRESSES[role]}-call-on", args=[session_id])
    offer_undo(request, text=text % {"count": people}, action=action, fields={})
    return redirect("today")


@require_POST
def call_on(request: HttpRequest, role: str, session_id: UUID) -> HttpResponse:
    """It takes place after all."""
    people = call_on_session(viewer=viewer_of(request, role), session_id=session_id)
    text = ngettext(
        "It takes place. %(count)d person who knew otherwise is told.",
        "It takes place. %(count)d people who knew otherwise are told.",
        people,
    )
    messages.info(request, text % {"count": people})
    return redirect("today")


@require_http_methods(["GET", "POST"])
def cover(request: HttpRequest, role: str, session_id: UUID) -> HttpResponse:
    """Who is free, whose check is in date, whether adults stay enough; then give it."""
    viewer = viewer_of(request, role)
    training_session = get_session_to_run(viewer, session_id)
    if request.method == "GET":
        return _cover_page(request, viewer, training_session)
    form = GiveForm(request.POST)
    if not form.is_valid():
        return _cover_page(request, viewer, training_session, Refused("CHECK_FIELDS", gettext("Choose a coach.")))
    given = form.cleaned_data
    try:
        give_session(viewer=viewer, session_id=session_id, from_id=given["from_coach"], to_id=given["to_coach"])
    except NotFound:
        raise
    except Refused as refusal:
        return _cover_page(request, viewer, training_session, refusal)
    messages.info(request, gettext("The session is handed over; both coaches are told."))
    return redirect("today")


def _call_off_page(
    request: HttpRequest,
    viewer: Viewer,
    training_session: TrainingSession,
    form: CallOffForm,
    refusal: Refused | None = None,
) -> HttpResponse:
    told = told_of_session(viewer=viewer, training_session=training_session, kind=Notice.Kind.CALLED_OFF)
    people = len({one.to for one in told})
    return _page(request, "call_off", viewer, training_session, refusal, form=form, people=people)


def _cover_page(
    request: HttpRequest, viewer: Viewer, training_session: TrainingSession, refusal: Refused | None = None
) -> HttpResponse:
    found = cover_of(viewer=viewer, training_session=training_session)
    mine = next((one.person for one in found.staff if one.person.pk == viewer.person_id), None)
    return _page(request, "cover", viewer, training_session, refusal, cover=found, mine=mine)


def _page(
    request: HttpRequest,
    name: str,
    viewer: Viewer,
    training_session: TrainingSession,
    refusal: Refused | None,
    **more: object,
) -> HttpResponse:
    context = {"session": training_session, "refusal": refusal, "zone": viewer.club.timezone, **more}
    return render(request, f"sessions/{name}.html", context, status=refusal.status if refusal else 200)
