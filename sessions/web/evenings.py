"""A coach's evenings and absences: one's own on the phone, anybody's for the head coach."""

from collections.abc import Callable
from dataclasses import replace
from uuid import UUID
from zoneinfo import ZoneInfo

from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.dates import WEEKDAYS_ABBR
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from athletes.models import Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.access import get_kept_coach
from sessions.models.venues import Weekday
from sessions.selectors.venues_page import CoachCard, coach_cards, stranded
from sessions.services.evenings import (
    add_absence,
    add_evenings,
    remove_absence,
    remove_evenings,
    set_most_sessions,
    tap_weekday,
)
from sessions.services.venues import Hours
from sessions.web.signed_values import signed, unsigned
from sessions.web.venue_forms import HoursForm, MostForm, StretchForm
from sessions.web.venues import hours_as_json, hours_from_json, tell_stranded
from teamtrack.common.errors import NotFound
from teamtrack.common.web.undo import offer_undo

SALT = "evenings"
DAYS = {str(day.value) for day in Weekday}


@require_http_methods(["GET", "POST"])
def evenings_page(request: HttpRequest, role: str, coach_id: UUID | None = None) -> HttpResponse:
    """Which evenings the coach can come, and when not after all: a tap on a day, the rest typed."""
    viewer = viewer_of(request, role)
    coach = get_kept_coach(viewer, coach_id or viewer.person_id)
    if request.method == "GET":
        return _page(request, viewer, coach, {})
    done = next((do for name, do in ACTS.items() if name in request.POST), _add)
    wrong = done(request, viewer, coach)
    return redirect(request.path) if wrong is None else _page(request, viewer, coach, wrong)


Wrong = dict[str, Form] | None


def _tap(request: HttpRequest, viewer: Viewer, coach: Person) -> Wrong:
    """A tap on a weekday: "3" comes on Wednesdays, "-3" no more."""
    asked = request.POST["day"]
    if asked.removeprefix("-") not in DAYS:
        raise NotFound()
    comes, weekday = not asked.startswith("-"), int(asked.removeprefix("-"))
    made, gone = tap_weekday(viewer=viewer, coach_id=coach.pk, weekday=weekday, comes=comes)
    if made:
        _offer(request, _("%(day)s is added.") % {"day": Weekday(weekday).label}, "remove", _ids(made))
    elif gone:
        told = _("%(day)s is taken away.") % {"day": Weekday(weekday).label}
        _offer(request, told, "back", signed([hours_as_json(one) for one in gone], SALT))
    return None


def _add(request: HttpRequest, viewer: Viewer, coach: Person) -> Wrong:
    form = HoursForm(request.POST)
    if not form.is_valid():
        return {"hours": form}
    given = form.cleaned_data
    one = Hours(0, given["starts"], given["ends"], given["first_day"] or viewer.today, given["last_day"])
    evenings = [replace(one, weekday=weekday) for weekday in given["weekdays"]]
    made = add_evenings(viewer=viewer, coach_id=coach.pk, evenings=evenings)
    if made:
        _offer(request, _("The evenings are added."), "remove", _ids(made))
    return None


def _remove(request: HttpRequest, viewer: Viewer, coach: Person) -> Wrong:
    ids = [_uuid(one) for one in request.POST["remove"].split(",")]
    gone = remove_evenings(viewer=viewer, coach_id=coach.pk, evening_ids=ids)
    if gone:
        _offer(request, _("Taken away."), "back", signed([hours_as_json(one) for one in gone], SALT))
    return None


def _back(request: HttpRequest, viewer: Viewer, coach: Person) -> Wrong:
    rows = [hours_from_json(row) for row in unsigned(request.POST["back"], SALT)]
    add_evenings(viewer=viewer, coach_id=coach.pk, evenings=rows)
    return None


def _away(request: HttpRequest, viewer: Viewer, coach: Person) -> Wrong:
    form = StretchForm(request.POST)
    if not form.is_valid():
        return {"absence": form}
    span = form.stretch(viewer)
    row, is_new = add_absence(viewer=viewer, coach_id=coach.pk, starts_at=span[0], ends_at=span[1])
    if is_new:
        _offer(request, _("Kept: not coming then."), "here", str(row.pk))
        if viewer.role == Role.HEAD_COACH:
            tell_stranded(request, stranded(viewer=viewer, span=span, coach=coach))
    return None


def _here(request: HttpRequest, viewer: Viewer, coach: Person) -> Wrong:
    gone = remove_absence(viewer=viewer, coach_id=coach.pk, absence_id=_uuid(request.POST["here"]))
    if gone is not None:
        zone = ZoneInfo(viewer.club.timezone)
        starts, ends = gone.starts_at.astimezone(zone), gone.ends_at.astimezone(zone)
        fields = {
            "away": "1", "first_day": starts.date().isoformat(), "last_day": ends.date().isoformat(),
            "starts": f"{starts:%H:%M}", "ends": f"{ends:%H:%M}",
        }  # fmt: skip
        offer_undo(request, text=_("Coming after all."), action=request.path, fields=fields)
    return None


def _most(request: HttpRequest, viewer: Viewer, coach: Person) -> Wrong:
    form = MostForm(request.POST)
    if not form.is_valid():
        return {"most": form}
    before = set_most_sessions(viewer=viewer, coach_id=coach.pk, most=form.cleaned_data["most"])
    if before is not None:
        _offer(request, _("Changed."), "most", str(before))
    return None


ACTS: dict[str, Callable[[HttpRequest, Viewer, Person], Wrong]] = {
    "day": _tap,
    "remove": _remove,
    "back": _back,
    "away": _away,
    "here": _here,
    "most": _most,
}


def _offer(request: HttpRequest, text: str, name: str, value: str) -> None:
    offer_undo(request, text=text, action=request.path, fields={name: value})


def _ids(rows: list) -> str:
    return ",".join(str(row.pk) for row in rows)


def _page(request: HttpRequest, viewer: Viewer, coach: Person, wrong: dict[str, Form]) -> HttpResponse:
    [card] = coach_cards(viewer=viewer, coaches=[coach])
    context = {
        "card": card,
        "days": _days(card),
        "hours": wrong.get("hours") or HoursForm(),
        "absence": wrong.get("absence") or StretchForm(initial={"first_day": viewer.today}),
        "most": wrong.get("most") or MostForm(initial={"most": card.most_sessions_a_day}),
        "is_own": coach.pk == viewer.person_id,
        "by_head_coach": viewer.role == Role.HEAD_COACH,
        "acting_role": Role(viewer.role).label,
        "today": viewer.today,
        "zone": viewer.now.tzinfo,
    }
    return render(request, "sessions/venues/evenings.html", context, status=400 if wrong else 200)


def _days(card: CoachCard) -> list[dict[str, object]]:
    """The seven days, each with whether the coach comes, and what a tap on it says."""
    comes = {evening.weekday for evening in card.evenings}
    return [
        {
            "label": day.label,
            "short": WEEKDAYS_ABBR[day.value - 1],
            "comes": day.value in comes,
            "tap": f"-{day.value}" if day.value in comes else f"{day.value}",
        }
        for day in Weekday
    ]


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise NotFound() from None
