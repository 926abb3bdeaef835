"""Forms of the Meet page."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext_lazy as _

from athletes.models import EventGroup, Person
from sessions.models import TrainingSession
from sessions.services.meets import MeetFacts


class MeetForm(forms.Form):
    """What is said of a meet; a new one needs its groups."""

    title = forms.CharField(label=_("Name"), max_length=120)
    place = forms.CharField(label=_("Place"), max_length=120, required=False)
    first_day = forms.DateField(label=_("Day"), widget=forms.DateInput({"type": "date"}))
    starts = forms.TimeField(label=_("Starts"), widget=forms.TimeInput({"type": "time"}, format="%H:%M"))
    ends = forms.TimeField(label=_("Ends"), widget=forms.TimeInput({"type": "time"}, format="%H:%M"))
    entries_close_on = forms.DateField(
        label=_("Entries close on"), required=False, widget=forms.DateInput({"type": "date"})
    )
    importance = forms.ChoiceField(label=_("How important"), choices=TrainingSession.Importance.choices)
    load_min = forms.IntegerField(
        label=_("Minutes of work for most"),
        help_text=_("Not the length of the day. An entry may say its own minutes."),
        required=False,
        min_value=0,
        max_value=600,
    )
    travel = forms.CharField(label=_("How to get there, when to meet"), max_length=200, required=False)
    groups = forms.TypedMultipleChoiceField(label=_("Groups"), coerce=UUID, widget=forms.CheckboxSelectMultiple)

    def __init__(
        self, data: Any = None, *, zone: str, groups: Iterable[EventGroup], is_new: bool = True, **options: Any
    ) -> None:
        options.setdefault("initial", {"starts": "10:00", "ends": "16:00", "importance": "ordinary"})
        super().__init__(data, **options)
        self.zone = ZoneInfo(zone)
        self.fields["groups"].choices = [(str(group.pk), group.name) for group in groups]
        if not is_new:
            del self.fields["groups"]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        starts, ends = said.get("starts"), said.get("ends")
        if starts and ends and ends <= starts:
            self.add_error("ends", _("It ends before it begins. A meet of two days is two meets."))
        return said

    @property
    def facts(self) -> MeetFacts:
        """What was typed, on the club's clock."""
        said = self.cleaned_data
        return MeetFacts(
            title=said["title"],
            place=said["place"],
            starts_at=datetime.combine(said["first_day"], said["starts"], self.zone),
            ends_at=datetime.combine(said["first_day"], said["ends"], self.zone),
            importance=said["importance"],
            load_min=said["load_min"],
            entries_close_on=said["entries_close_on"],
            travel=said["travel"],
        )


def as_typed(facts: MeetFacts, zone: str) -> dict[str, Any]:
    """The fields of the form as they stand."""
    starts, ends = (moment.astimezone(ZoneInfo(zone)) for moment in (facts.starts_at, facts.ends_at))
    return {
        "title": facts.title,
        "place": facts.place,
        "first_day": starts.date().isoformat(),
        "starts": f"{starts:%H:%M}",
        "ends": f"{ends:%H:%M}",
        "entries_close_on": facts.entries_close_on.isoformat() if facts.entries_close_on else None,
        "importance": facts.importance or TrainingSession.Importance.ORDINARY.value,
        "load_min": facts.load_min,
        "travel": facts.travel,
    }


class EntryForm(forms.Form):
    """Who is entered in what."""

    athlete_id = forms.TypedChoiceField(label=_("Athlete"), coerce=UUID)
    event = forms.CharField(
        label=_("Event"), max_length=40, widget=forms.TextInput({"list": "events", "autocomplete": "off"})
    )
    own_mark = forms.CharField(label=_("Own mark"), max_length=20, required=False)
    minutes = forms.IntegerField(label=_("Minutes of work"), required=False, min_value=1, max_value=600)

    def __init__(self, data: Any = None, *, people: Iterable[Person]) -> None:
        super().__init__(data)
        self.fields["athlete_id"].choices = [(str(person.pk), person.full_name) for person in people]


class OneEntryForm(forms.Form):
    """Which entry."""

    entry = forms.UUIDField()


class OneAthleteForm(forms.Form):
    """Which athlete."""

    athlete_id = forms.UUIDField()


class ResultForm(OneEntryForm):
    """How it went, as the meet wrote it."""

    result = forms.CharField(max_length=40, required=False)
