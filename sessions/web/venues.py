"""Pages of venues: straights, weekly hours, closings; each step can be undone, two people at once lose nothing."""

from collections.abc import Mapping
from datetime import date, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.access import coaches_kept_by, get_venue
from sessions.core.running.lengths import length_in
from sessions.selectors.public_holidays import public_holidays
from sessions.selectors.venues_page import Stranded, VenueCard, coach_cards, stranded, venue_cards
from sessions.services.venues import (
    Hours,
    add_venue,
    change_venue,
    close_venue,
    open_venue,
    remove_closing,
    remove_openings,
    remove_venue,
    venue_values,
)
from sessions.web.signed_values import signed, unsigned
from sessions.web.venue_forms import ClosingForm, HoursForm, VenueForm
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo

SALT = "venue"
HOLIDAYS_AHEAD = timedelta(days=200)
MOST_SHOWN = 5


@require_GET
def venues_page(request: HttpRequest) -> HttpResponse:
    """The club's straights and coaches."""
    viewer = _head_coach(request)
    context = {
        "venues": [_shown(card, viewer) for card in venue_cards(viewer=viewer)],
        "coaches": coach_cards(viewer=viewer, coaches=list(coaches_kept_by(viewer))),
        "today": viewer.today,
        "zone": viewer.now.tzinfo,
    }
    return render(request, "sessions/venues/venues.html", context)


@require_http_methods(["GET", "POST"])
def new_venue(request: HttpRequest) -> HttpResponse:
    """Add a straight."""
    viewer = _head_coach(request)
    initial = {"straight_cm": 10000, "roll_in_cm": 2000, "run_out_cm": 1700, "lanes": 6, "has_lights": True}
    form = VenueForm(request.POST or None, initial=initial, unit=viewer.club.distance_unit)
    refusal = None
    if form.is_valid():
        try:
            venue = add_venue(viewer=viewer, wanted=form.cleaned_data)
        except Refused as refused:
            refusal = _told(refused)
        else:
            offer_undo(
                request, text=_("The venue is added."), action=reverse("venue-remove", args=[venue.pk]), fields={}
            )
            return redirect("venue", venue.pk)
    context = {"form": form, "refusal": refusal}
    return render(request, "sessions/venues/new.html", context, status=_status(refusal, form))


@require_http_methods(["GET", "POST"])
def venue_page(request: HttpRequest, venue_id: UUID) -> HttpResponse:
    """One venue: what it is, when it is open, when it is shut."""
    viewer = _head_coach(request)
    venue = get_venue(viewer, venue_id)
    if request.method == "GET":
        return _page(request, viewer, venue_id)
    try:
        if "back" in request.POST:
            step = unsigned(request.POST["back"], SALT)
            change_venue(viewer=viewer, venue_id=venue_id, shown=step["shown"], wanted=step["wanted"])
            return redirect("venue", venue_id)
        shown = unsigned(request.POST.get("shown", ""), SALT)
        form = VenueForm(request.POST, unit=viewer.club.distance_unit)
        if not form.is_valid():
            return _page(request, viewer, venue_id, form=form)
        is_changed = change_venue(viewer=viewer, venue_id=venue_id, shown=shown, wanted=form.cleaned_data)
    except Refused as refusal:
        form = VenueForm(request.POST, unit=viewer.club.distance_unit) if "back" not in request.POST else None
        return _page(request, viewer, venue_id, form=form, refusal=_told(refusal))
    if is_changed:
        back = signed({"shown": form.cleaned_data, "wanted": venue_values(venue)}, SALT)
        offer_undo(request, text=_("The venue is changed."), action=request.path, fields={"back": back})
    return redirect("venue", venue_id)


@require_POST
def hours(request: HttpRequest, venue_id: UUID) -> HttpResponse:
    """Add weekly hours, take them away, put them back."""
    viewer, here = _head_coach(request), reverse("venue", args=[venue_id])
    get_venue(viewer, venue_id)
    if "remove" in request.POST:
        ids = [_uuid(one) for one in request.POST["remove"].split(",")]
        gone = remove_openings(viewer=viewer, venue_id=venue_id, opening_ids=ids)
        fields = {"back": signed([hours_as_json(one) for one in gone], SALT)}
        if gone:
            offer_undo(request, text=_("The hours are taken away."), action=request.path, fields=fields)
        return redirect(here + "#hours")
    if "back" in request.POST:
        for row in unsigned(request.POST["back"], SALT):
            one = hours_from_json(row)
            open_venue(viewer=viewer, venue_id=venue_id, weekdays=[one.weekday], hours=one)
        return redirect(here + "#hours")
    form = HoursForm(request.POST)
    if not form.is_valid():
        return _page(request, viewer, venue_id, hours=form)
    given = form.cleaned_data
    wanted = Hours(0, given["starts"], given["ends"], given["first_day"] or viewer.today, given["last_day"])
    made = open_venue(viewer=viewer, venue_id=venue_id, weekdays=given["weekdays"], hours=wanted)
    if made:
        fields = {"remove": ",".join(str(row.pk) for row in made)}
        offer_undo(request, text=_("The hours are added."), action=request.path, fields=fields)
    return redirect(here + "#hours")


@require_POST
def closings(request: HttpRequest, venue_id: UUID) -> HttpResponse:
    """Shut a venue for a while, open it again."""
    viewer, here = _head_coach(request), reverse("venue", args=[venue_id])
    venue = get_venue(viewer, venue_id)
    if "remove" in request.POST:
        gone = remove_closing(viewer=viewer, venue_id=venue_id, closing_id=_uuid(request.POST["remove"]))
        if gone is not None:
            zone = ZoneInfo(viewer.club.timezone)
            starts, ends = gone.starts_at.astimezone(zone), gone.ends_at.astimezone(zone)
            fields = {
                "first_day": starts.date().isoformat(), "last_day": ends.date().isoformat(),
                "starts": f"{starts:%H:%M}", "ends": f"{ends:%H:%M}", "reason": gone.reason,
            }  # fmt: skip
            offer_undo(request, text=_("The venue is open again."), action=request.path, fields=fields)
        return redirect(here + "#closings")
    form = ClosingForm(request.POST)
    if not form.is_valid():
        return _page(request, viewer, venue_id, closing=form)
    span = form.stretch(viewer)
    closing, is_new = close_venue(
        viewer=viewer, venue_id=venue_id, starts_at=span[0], ends_at=span[1], reason=form.cleaned_data["reason"]
    )
    if is_new:
        offer_undo(request, text=_("The venue is shut then."), action=request.path, fields={"remove": str(closing.pk)})
        tell_stranded(request, stranded(viewer=viewer, span=span, venue=venue))
    return redirect(here + "#closings")


@require_POST
def remove(request: HttpRequest, venue_id: UUID) -> HttpResponse:
    """Take away a venue that nothing uses."""
    viewer = _head_coach(request)
    try:
        remove_venue(viewer=viewer, venue_id=venue_id)
    except Refused as refusal:
        return _page(request, viewer, venue_id, refusal=_told(refusal))
    messages.info(request, _("The venue is taken away."))
    return redirect("venues")


def tell_stranded(request: HttpRequest, rows: list[Stranded]) -> None:
    """Say which sessions of the drafts lie there, so that they can be mended."""
    if rows:
        count = len(rows)
        text = ngettext(
            "%(count)d planned session lies then: %(which)s. Open that week and ask the planner again.",
            "%(count)d planned sessions lie then: %(which)s. Open those weeks and ask the planner again.",
            count,
        )
        which = "; ".join(f"{row.name}, {date_format(row.starts_at, 'D j M H:i')}" for row in rows[:MOST_SHOWN])
        messages.warning(request, text % {"count": count, "which": which})


def hours_as_json(one: Hours) -> dict[str, Any]:
    """Weekly hours as plain values."""
    last = one.last_day.isoformat() if one.last_day else None
    return {
        "weekday": one.weekday, "starts": one.starts.isoformat(), "ends": one.ends.isoformat(),
        "first_day": one.first_day.isoformat(), "last_day": last,
    }  # fmt: skip


def hours_from_json(row: Mapping[str, Any]) -> Hours:
    """The weekly hours of `hours_as_json`."""
    last = date.fromisoformat(row["last_day"]) if row["last_day"] else None
    starts, ends = time.fromisoformat(row["starts"]), time.fromisoformat(row["ends"])
    return Hours(row["weekday"], starts, ends, date.fromisoformat(row["first_day"]), last)


def _page(
    request: HttpRequest,
    viewer: Viewer,
    venue_id: UUID,
    *,
    form: VenueForm | None = None,
    hours: HoursForm | None = None,
    closing: ClosingForm | None = None,
    refusal: Refused | None = None,
) -> HttpResponse:
    card = next((one for one in venue_cards(viewer=viewer) if one.venue.pk == venue_id), None)
    if card is None:
        raise NotFound()
    values = venue_values(card.venue)
    shut = {closing.starts_at.astimezone(viewer.now.tzinfo).date() for closing in card.closings}
    ahead = public_holidays(country=viewer.club.country, first=viewer.today, last=viewer.today + HOLIDAYS_AHEAD)
    context = {
        **_shown(card, viewer),
        "form": form or VenueForm(initial=values, unit=viewer.club.distance_unit),
        "shown": signed(values, SALT),
        "hours": hours or HoursForm(),
        "closing": closing or ClosingForm(initial={"first_day": viewer.today}),
        "holidays": [one for one in ahead if one.day not in shut],
        "refusal": refusal,
        "today": viewer.today,
        "zone": viewer.now.tzinfo,
    }
    return render(request, "sessions/venues/venue.html", context, status=_status(refusal, form, hours, closing))


def _shown(card: VenueCard, viewer: Viewer) -> dict[str, Any]:
    unit, venue = viewer.club.distance_unit, card.venue
    lengths = {name: length_in(getattr(venue, f"{name}_cm"), unit) for name in ("straight", "roll_in", "run_out")}
    longest = length_in(venue.longest_run_cm, unit)
    return {"card": card, "venue": venue, "unit": unit, "longest": longest, **lengths}


def _status(refusal: Refused | None, *forms: VenueForm | HoursForm | ClosingForm | None) -> int:
    if refusal is not None:
        return refusal.status
    return 400 if any(form is not None and form.errors for form in forms) else 200


def _told(refusal: Refused) -> Refused:
    if isinstance(refusal, NotFound):
        raise refusal
    return refusal


def _head_coach(request: HttpRequest) -> Viewer:
    return viewer_of(request, Role.HEAD_COACH)


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise NotFound() from None
