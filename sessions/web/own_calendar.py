"""One's own calendar: the page with the secret address, and what a calendar program fetches there."""

from uuid import UUID
from zoneinfo import ZoneInfo

from django import forms
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import parse_etags
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_GET, require_POST, require_safe

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.core.calendar_files.writing import Event, calendar_text
from sessions.selectors.own_calendar import Line, OwnCalendar, calendar_of, hides_venue, living_address
from sessions.services.calendar_addresses import (
    CalendarAnswer,
    TooOften,
    fetch_calendar,
    make_calendar_address,
    set_hidden_venue,
    stop_calendar_address,
)
from sessions.week_words import kind_words
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo

MAY_HIDE = (Role.HEAD_COACH, Role.ADMIN)


class HidesVenueForm(forms.Form):
    """Whether venues are left out."""

    hides_venue = forms.TypedChoiceField(choices=[("yes", "yes"), ("no", "no")], coerce=lambda word: word == "yes")


@require_GET
def page(request: HttpRequest) -> HttpResponse:
    """Whether there is an address, what it tells, and how to make, renew or stop it."""
    return _page(request, viewer_of(request))


def _page(request: HttpRequest, viewer: Viewer, *, secret: str = "", fault: str = "") -> HttpResponse:
    shown = {
        "calendar": calendar_of(viewer.person),
        "address": living_address(viewer),
        "secret_address": request.build_absolute_uri(reverse("calendar-feed", args=[secret])) if secret else "",
        "permission_pages": [name for role, name in _PERMISSIONS.items() if role in viewer.roles],
        "hides_venue": hides_venue(viewer),
        "may_hide": any(role in MAY_HIDE for role in viewer.roles),
        "zone": viewer.club.timezone,
        "fault": fault,
    }
    return render(request, "sessions/own_calendar.html", shown, status=400 if fault else 200)


_PERMISSIONS = {Role.ATHLETE: "athlete-permissions", Role.GUARDIAN: "guardian-permissions"}


@require_POST
@sensitive_variables("secret")
def make(request: HttpRequest) -> HttpResponse:
    """A new address, also in place of the one before; the answer shows it this once."""
    viewer = viewer_of(request)
    try:
        secret = make_calendar_address(viewer=viewer)
    except Refused as refusal:
        return _page(request, viewer, fault=refusal.detail)
    return _page(request, viewer, secret=secret)


@require_POST
def stop(request: HttpRequest) -> HttpResponse:
    """The address opens nothing from now on."""
    stop_calendar_address(viewer=viewer_of(request))
    return redirect("own-calendar")


@require_POST
def hide_venue(request: HttpRequest) -> HttpResponse:
    """Whether the club's calendars tell where it is; with undo."""
    viewer = viewer_of(request)
    role = next((role for role in MAY_HIDE if role in viewer.roles), None)
    if role is None:
        raise NotFound()
    form, before = HidesVenueForm(request.POST), hides_venue(viewer)
    if not form.is_valid():
        return _page(request, viewer, fault=_("Choose whether calendars tell the venue. Nothing was changed."))
    is_hidden = form.cleaned_data["hides_venue"]
    set_hidden_venue(viewer=viewer.acting_as(role), hides_venue=is_hidden)
    text = _("Calendars no longer tell the venue.") if is_hidden else _("Calendars tell the venue.")
    fields = {"hides_venue": "yes" if before else "no"}
    offer_undo(request, text=text, action=reverse("own-calendar-venue"), fields=fields)
    return redirect("own-calendar")


@login_not_required
@require_safe
@sensitive_variables("secret")
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    """The calendar of whoever's secret this is; dead, unknown and not allowed look alike."""
    try:
        answer = fetch_calendar(secret=secret, known=_known(request))
    except TooOften as refusal:
        found = HttpResponse(refusal.detail, status=429, content_type="text/plain; charset=utf-8")
        found["Retry-After"] = str(refusal.wait_s)
        return _private(found)
    if answer.lines is None:
        return _private(HttpResponseNotModified(), answer.state)
    text = _text(answer.calendar, answer)
    return _private(HttpResponse(text, content_type="text/calendar; charset=utf-8"), answer.state)


def _known(request: HttpRequest) -> list[str]:
    """The states that the asker has, weak or not."""
    return [tag.removeprefix("W/").strip('"') for tag in parse_etags(request.headers.get("If-None-Match", ""))]


def _private(answer: HttpResponse, state: str = "") -> HttpResponse:
    answer["Cache-Control"] = "private, no-cache"
    answer["X-Robots-Tag"] = "noindex"
    answer["Referrer-Policy"] = "no-referrer"
    if state:
        answer["ETag"] = f'W/"{state}"'
    return answer


def _text(calendar: OwnCalendar, answer: CalendarAnswer) -> str:
    """Kind, time and place; a child's first name before its own, and nothing else."""
    words: dict[str, str] = {}
    events = [_event(uid, line, calendar.names, words) for uid, line in answer.lines or ()]
    return calendar_text(name=_("Training"), zone=ZoneInfo(calendar.viewer.club.timezone), events=events)


def _event(uid: UUID, line: Line, names: dict[UUID, str], words: dict[str, str]) -> Event:
    told, kinds = line.told, line.told.planned.kinds
    if kinds not in words:
        first, *also = kinds.split(",")
        words[kinds] = kind_words(first, also)
    name = names.get(line.about) if line.about else None
    return Event(
        uid=uid,
        sequence=told.sequence,
        changed_at=told.changed_at,
        starts_at=told.planned.starts_at,
        ends_at=told.planned.ends_at,
        summary=_("%(child)s: %(kinds)s") % {"child": name, "kinds": words[kinds]} if name else capfirst(words[kinds]),
        place=told.planned.place,
        is_cancelled=told.is_cancelled,
    )
