"""Other sport, on the phone: a day, how hard, kept; what was said so far, with "take back"."""

from datetime import date, time, timedelta
from typing import Any
from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from athletes.access import get_athlete
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.models import OtherSport
from sessions.selectors.other_sports import said_other_sports
from sessions.services.say_other_sport import Sport, say_other_sport, take_back_other_sport
from sessions.web.venue_forms import HourField
from sessions.words import other_sport_line
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.forms import DayField
from teamtrack.common.web.undo import offer_undo

LENGTHS_MIN = (45, 60, 90, 120, 180)
DAYS_OFFERED = 7
FIELDS = {"last_day": "until", "ends": "ends"}
"""Where what the service refuses stands in the form; a day that is past stands where it was chosen."""


class SportForm(forms.Form):
    """A day and how hard; the rest has a usual answer, and hours, later days and weeks can be typed."""

    day = forms.ChoiceField(label=gettext_lazy("Which day?"), required=False, widget=forms.RadioSelect)
    part = forms.ChoiceField(
        label=gettext_lazy("When?"), choices=OtherSport.Part.choices, required=False, widget=forms.RadioSelect,
        initial=OtherSport.Part.EVENING,
    )  # fmt: skip
    minutes = forms.TypedChoiceField(
        label=gettext_lazy("About how many minutes?"), choices=[(one, str(one)) for one in LENGTHS_MIN], coerce=int,
        empty_value=0, required=False, widget=forms.RadioSelect, initial=90,
    )  # fmt: skip
    other_day = DayField(label=gettext_lazy("Another day"), required=False)
    starts = HourField(label=gettext_lazy("From"), required=False, input_formats=["%H:%M"])
    ends = HourField(label=gettext_lazy("Until"), required=False, input_formats=["%H:%M"])
    until = DayField(
        label=gettext_lazy("Every week until"), required=False, help_text=gettext_lazy("Empty: that day alone.")
    )
    effort = forms.ChoiceField(
        choices=OtherSport.Effort.choices, error_messages={"required": gettext_lazy("Tap how hard it is.")}
    )

    def __init__(self, *args: Any, today: date, **options: Any) -> None:
        super().__init__(*args, **options)
        days = [today + timedelta(days=number) for number in range(DAYS_OFFERED)]
        self.fields["day"].choices = [(day.isoformat(), date_format(day, "D j")) for day in days]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if not (given.get("day") or given.get("other_day") or {"day", "other_day"} & set(self.errors)):
            self.add_error("day", _("Choose a day."))
        starts, ends = given.get("starts"), given.get("ends")
        if (starts is None) != (ends is None) and not {"starts", "ends"} & set(self.errors):
            self.add_error("ends", _("Give both hours, or leave both empty."))
        if starts is None and not (given.get("part") and given.get("minutes")):
            self.add_error("part", _("Choose a part of the day and about how long, or give the hours."))
        return given

    def sport(self) -> Sport:
        """What was said."""
        given = self.cleaned_data
        first = given["other_day"] or date.fromisoformat(given["day"])
        days = (given["effort"], first, given["until"] or first)
        if given["starts"] is not None:
            return Sport(*days, starts=given["starts"], ends=given["ends"])
        return Sport(*days, part=given["part"], minutes=given["minutes"])

    def refuse(self, refusal: Refused) -> None:
        """What the service says, beside its field."""
        if not refusal.fields:
            self.add_error(None, refusal.detail)
        chosen = "other_day" if self.cleaned_data.get("other_day") else "day"
        for field, texts in refusal.fields.items():
            self.add_error(FIELDS.get(field, chosen), texts)


@require_http_methods(["GET", "POST"])
def page(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """When does this athlete do another sport?"""
    viewer = viewer_of(request, role)
    athlete = get_athlete(viewer, athlete_id, "availability")
    if request.method == "GET":
        return _page(request, viewer, athlete, SportForm(today=viewer.today))
    if "back" in request.POST:
        _take_back(request, viewer, athlete)
        return redirect(request.path)
    form = SportForm(request.POST, today=viewer.today)
    if not form.is_valid() or not _said(request, viewer, athlete, form):
        return _page(request, viewer, athlete, form)
    return redirect(request.path)


def _said(request: HttpRequest, viewer: Viewer, athlete: Person, form: SportForm) -> bool:
    """Whether it is kept; an undo is offered for what it changed."""
    try:
        said = say_other_sport(viewer=viewer, athlete_id=athlete.pk, sport=form.sport())
    except NotFound:
        raise
    except Refused as refusal:
        form.refuse(refusal)
        return False
    if said.is_changed:
        fields = {"back": str(said.row.pk)} if said.before is None else _fields(said.before)
        text = _("Kept: %(what)s.") % {"what": other_sport_line(said.row)}
        offer_undo(request, text=text, action=request.path, fields=fields)
    return True


def _take_back(request: HttpRequest, viewer: Viewer, athlete: Person) -> None:
    try:
        sport_id = UUID(request.POST["back"])
    except ValueError:
        raise NotFound() from None
    gone = take_back_other_sport(viewer=viewer, athlete_id=athlete.pk, sport_id=sport_id)
    if gone is not None:
        offer_undo(request, text=_("Taken back."), action=request.path, fields=_fields(gone))


def _fields(sport: Sport) -> dict[str, str]:
    """What was said, as the form posts it."""
    fields = {
        "effort": sport.effort,
        "other_day": sport.first_day.isoformat(),
        "until": sport.last_day.isoformat() if sport.last_day > sport.first_day else "",
    }
    if sport.part:
        return fields | {"part": sport.part, "minutes": str(sport.minutes)}
    return fields | {"starts": _wall(sport.starts), "ends": _wall(sport.ends)}


def _wall(hour: time | None) -> str:
    return f"{hour:%H:%M}" if hour is not None else ""


def _page(request: HttpRequest, viewer: Viewer, athlete: Person, form: SportForm) -> HttpResponse:
    context = {
        "athlete": athlete,
        "is_own": viewer.role == Role.ATHLETE,
        "form": form,
        "has_more": "minutes" in form.errors
        or any(form[name].errors or form[name].value() for name in ("other_day", "starts", "ends", "until")),
        "efforts": OtherSport.Effort.choices,
        "said": [(row, other_sport_line(row)) for row in said_other_sports(viewer=viewer, athlete=athlete)],
        "acting_role": Role(viewer.role).label,
    }
    return render(request, "sessions/other_sport.html", context, status=400 if form.errors else 200)
