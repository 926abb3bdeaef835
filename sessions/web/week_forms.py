"""Forms of the Week page."""

from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Any
from uuid import UUID

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from sessions.core.iso_week import IsoWeek
from sessions.core.week_changes import Place
from sessions.models import Demand


class RevisionForm(forms.Form):
    """What every change of a draft carries: the revision that the page showed."""

    revision = forms.IntegerField(min_value=0, widget=forms.HiddenInput)


class AcceptForm(RevisionForm):
    """Which moves of a proposal are taken over."""

    whole = forms.BooleanField(required=False)
    demands = forms.TypedMultipleChoiceField(coerce=UUID, required=False)

    def __init__(self, data: Any, *, demands: Sequence[str]) -> None:
        super().__init__(data)
        self.fields["demands"].choices = [(demand, demand) for demand in demands]

    @property
    def chosen(self) -> list[UUID] | None:
        return None if self.cleaned_data["whole"] else self.cleaned_data["demands"]


class MoveForm(RevisionForm):
    """Where one session goes, by hand."""

    day = forms.TypedChoiceField(label=_("Day"), coerce=date.fromisoformat)
    starts = forms.TimeField(label=_("Starts"), widget=forms.TimeInput({"type": "time", "step": 900}, format="%H:%M"))
    venue = forms.TypedChoiceField(label=_("Venue"), coerce=UUID)
    coaches = forms.TypedMultipleChoiceField(
        label=_("Coaches"),
        coerce=UUID,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Choose who leads it.")},
    )
    excuse = forms.BooleanField(label=_("Excuse those who cannot come then"), required=False)

    def __init__(self, data: Any = None, *, demand: Demand, week: IsoWeek, **options: Any) -> None:
        super().__init__(data, **options)
        self.week = week
        self.fields["day"].choices = [(day.isoformat(), date_format(day, "l j F")) for day in week.days]
        self.fields["venue"].choices = [(str(venue.pk), venue.name) for venue in demand.venues.all()]
        self.fields["coaches"].choices = [(str(coach.pk), coach.full_name) for coach in demand.coaches.all()]

    @property
    def starts_at(self) -> datetime:
        """The chosen day and wall time as an instant."""
        return self.week.at(self.cleaned_data["day"], self.cleaned_data["starts"])


def where_it_lies(demand: Demand, place: Place | None, week: IsoWeek, revision: int) -> dict[str, Any]:
    """What the form for moving shows at first: the place in the draft, else the usual slot."""
    starts = place.starts_at if place else _usual_start(demand)
    local = (starts or week.at(week.monday, time(18))).astimezone(week.zone)
    return {
        "revision": revision,
        "day": local.date().isoformat(),
        "starts": local.time(),
        "venue": place.venue if place else None,
        "coaches": list(place.coaches) if place else [],
    }


def _usual_start(demand: Demand) -> datetime | None:
    return datetime.fromisoformat(demand.preferred[0]["start"]) if demand.preferred else None
