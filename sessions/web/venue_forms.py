"""Forms of venues, their hours and closings, and of coaches' evenings."""

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.core.stretches import Stretch
from sessions.models import Venue
from sessions.models.venues import Weekday
from sessions.selectors.venues_page import whole_days
from sessions.web.group_defaults import UNIT_WORDS, LengthField

LONGEST_DAYS = 400


class RoomField(LengthField):
    """Room before or after a run: none is a length too."""

    least_m, most_m = 0, 200


class DayField(forms.DateField):
    """A day, picked or typed."""

    widget = forms.DateInput({"type": "date"}, format="%Y-%m-%d")


class HourField(forms.TimeField):
    """A time of the wall clock."""

    widget = forms.TimeInput({"type": "time"}, format="%H:%M")


class FormBesideOthers(forms.Form):
    """A form on a page with others: its controls have ids of their own, so that each label finds its control."""

    own_ids = ""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **{"auto_id": self.own_ids} | options)


class VenueForm(forms.Form):
    """One straight: how long, how much room round it, lanes, lights, surface, and where it lies if that is known."""

    name = forms.CharField(label=_("Name"), max_length=80)
    straight_cm = LengthField(label=_("Length of the straight"))
    roll_in_cm = RoomField(label=_("Roll-in before the run"))
    run_out_cm = RoomField(label=_("Run-out after it"))
    lanes = forms.IntegerField(label=_("Lanes"), min_value=1, max_value=20)
    surface = forms.ChoiceField(label=_("Surface"), choices=Venue.Surface.choices)
    has_lights = forms.BooleanField(
        label=_("It has lights"),
        required=False,
        help_text=_("Without lights it closes at civil dusk, if its place is known."),
    )
    is_shared = forms.BooleanField(label=_("Shared with others"), required=False)
    latitude = forms.FloatField(
        label=_("Latitude"),
        required=False,
        min_value=-90,
        max_value=90,
        help_text=_("In degrees, north is plus. May stay empty."),
    )
    longitude = forms.FloatField(
        label=_("Longitude"), required=False, min_value=-180, max_value=180, help_text=_("In degrees, east is plus.")
    )

    def __init__(self, *args: Any, unit: str, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in ("straight_cm", "roll_in_cm", "run_out_cm"):
            self.fields[name].unit = unit
            self.fields[name].help_text = UNIT_WORDS[unit]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        one, other = given.get("latitude"), given.get("longitude")
        if (one is None) != (other is None) and not {"latitude", "longitude"} & set(self.errors):
            self.add_error("longitude", gettext("Give both, or leave both empty."))
        return given


class HoursForm(FormBesideOthers):
    """The same hours on some weekdays, from a day on."""

    own_ids = "hours_%s"
    weekdays = forms.TypedMultipleChoiceField(
        label=_("Days"), coerce=int, choices=Weekday.choices, widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Choose at least one day.")},
    )  # fmt: skip
    starts = HourField(label=_("From"), initial="17:00")
    ends = HourField(label=_("Until"), initial="21:00")
    first_day = DayField(label=_("First day"), required=False, help_text=_("Empty: from today on."))
    last_day = DayField(label=_("Last day"), required=False, help_text=_("Empty: no end."))

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        starts, ends = given.get("starts"), given.get("ends")
        if starts and ends and starts >= ends:
            self.add_error("ends", gettext("The end has to be after the start."))
        first, last = given.get("first_day"), given.get("last_day")
        if first and last and last < first:
            self.add_error("last_day", gettext("The last day has to be the first one or later."))
        return given


class StretchForm(FormBesideOthers):
    """From a day to another, whole days unless hours are given."""

    own_ids = "stretch_%s"
    first_day = DayField(label=_("Day"))
    last_day = DayField(label=_("Last day"), required=False, help_text=_("Empty: that day alone."))
    starts = HourField(label=_("From"), required=False, help_text=_("Empty: the whole day."))
    ends = HourField(label=_("Until"), required=False)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        first, last = given.get("first_day"), given.get("last_day")
        if first and last and not first <= last <= first + timedelta(days=LONGEST_DAYS):
            self.add_error("last_day", gettext("The last day has to be the first one or later, within a year."))
        starts, ends = given.get("starts"), given.get("ends")
        if (starts is None) != (ends is None) and not {"starts", "ends"} & set(self.errors):
            self.add_error("ends", gettext("Give both hours, or leave both empty."))
        elif starts and ends and starts >= ends and (last or first) == first:
            self.add_error("ends", gettext("The end has to be after the start."))
        return given

    def stretch(self, viewer: Viewer) -> Stretch:
        """The instants at which it begins and ends on the club's clock."""
        given = self.cleaned_data
        first: date = given["first_day"]
        last: date = given["last_day"] or first
        if given["starts"] is None:
            return whole_days(viewer, first, last)
        zone = ZoneInfo(viewer.club.timezone)
        week = IsoWeek(monday_of(first), zone)
        ends: tuple[datetime, datetime] = week.at(first, given["starts"]), week.at(last, given["ends"])
        return ends


class ClosingForm(StretchForm):
    """When a venue is shut after all."""

    reason = forms.CharField(
        label=_("Why"), required=False, max_length=80, help_text=_("For example: water on lane 1.")
    )


class MostForm(forms.Form):
    """How many sessions a day a coach takes on."""

    most = forms.IntegerField(label=_("Most sessions on one day"), min_value=1, max_value=6)
