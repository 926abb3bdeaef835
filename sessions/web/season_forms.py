"""Forms of the season plan."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from athletes.models import EventGroup, Person, Squad
from sessions.core.iso_week import monday_of
from sessions.core.season_document import MOST_WEEKS
from sessions.core.season_starters import LEAST_WEEKS
from sessions.models import Phase, SeasonPlan, Venue, WeekModifier
from sessions.models.season import Kind
from sessions.models.venues import Weekday
from sessions.web.venue_forms import DayField, HourField

STARTER_WORDS = {
    "one_peak": _("One main meet near the end: preparation, competition, taper, transition"),
    "two_peaks": _("Two parts of a year, each with its meets; a taper before the second"),
    "school_year": _("School term: preparation, meets, an easy end; no taper"),
}
PLANNED_KINDS = (Kind.HARD, Kind.MODERATE, Kind.TECHNIQUE, Kind.EASY)
USUAL_MINUTES = 60
OWN_FIELDS = {
    "rest_days_per_week": (_("Rest days a week"), 0, 6),
    "sessions_per_day": (_("Sessions a day, at most"), 1, 3),
    "fresh_after_h": (_("Fresh after so many hours"), 12, 96),
    "ideal_between_technique_h": (_("Hours from technique to technique, at best"), 12, 168),
}
OWN_GAPS = {
    "hard.technique": _("Hours from hard to technique, at least"),
    "hard.hard": _("Hours from hard to hard, at least"),
    "technique.technique": _("Hours from technique to technique, at least"),
}


class SeasonForm(forms.Form):
    """A new season: after a starter, or a season once more."""

    name = forms.CharField(label=_("Name"), max_length=80)
    first_monday = DayField(label=_("First week"), help_text=_("Any day of it: the season begins on its Monday."))
    weeks = forms.IntegerField(label=_("Weeks"), min_value=LEAST_WEEKS, max_value=MOST_WEEKS)
    begin_with = forms.ChoiceField(label=_("Begin with"), widget=forms.RadioSelect)

    def __init__(self, *args: Any, seasons: Sequence[SeasonPlan], **options: Any) -> None:
        super().__init__(*args, **options)
        copies = [(str(one.pk), gettext("A copy of %(season)s") % {"season": one.name}) for one in seasons]
        self.fields["begin_with"].choices = [*STARTER_WORDS.items(), *copies]

    def clean_first_monday(self) -> date:
        return monday_of(self.cleaned_data["first_monday"])


class PhaseForm(forms.Form):
    """A phase: what it is called, its aim, its weeks."""

    aim = forms.ChoiceField(label=_("Aim"), choices=Phase.Aim.choices)
    name = forms.CharField(
        label=_("Own name"), max_length=80, required=False, help_text=_("Empty: the aim is its name.")
    )
    first_week = forms.IntegerField(label=_("First week"), min_value=1)
    last_week = forms.IntegerField(label=_("Last week"), min_value=1)


class ItemForm(forms.Form):
    """One session of a group's weekly pattern."""

    kind = forms.ChoiceField(label=_("Kind"), choices=[(kind.value, kind.label) for kind in PLANNED_KINDS])
    also = forms.ChoiceField(
        label=_("Then, in the same block"), required=False,
        choices=[("", _("nothing else")), *((kind.value, kind.label) for kind in PLANNED_KINDS)],
    )  # fmt: skip
    duration_min = forms.IntegerField(label=_("Minutes, warm-up included"), min_value=10, max_value=240)
    priority = forms.TypedChoiceField(
        label=_("If not everything fits"), coerce=int,
        choices=[(3, _("drop this last")), (2, _("as the others")), (1, _("drop this first"))],
    )  # fmt: skip
    lanes = forms.IntegerField(label=_("Lanes"), min_value=1, max_value=12)
    observers = forms.IntegerField(label=_("Coaches who watch"), min_value=1, max_value=6)
    usual_weekday = forms.TypedChoiceField(
        label=_("Usual day"), required=False, coerce=int, empty_value=None, choices=[("", _("any")), *Weekday.choices]
    )
    usual_from = HourField(label=_("Usually from"), required=False)
    usual_until = HourField(label=_("Usually until"), required=False)
    venues = forms.MultipleChoiceField(label=_("Venues"), widget=forms.CheckboxSelectMultiple)
    coaches = forms.MultipleChoiceField(label=_("Coaches"), widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, venues: Sequence[Venue], coaches: Sequence[Person], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["venues"].choices = [(str(one.pk), one.name) for one in venues]
        self.fields["coaches"].choices = [(str(one.pk), one.full_name) for one in coaches]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("also") and given["also"] == given.get("kind"):
            self.add_error("also", gettext("Choose another kind than the first."))
        day, starts, ends = (given.get(name) for name in ("usual_weekday", "usual_from", "usual_until"))
        if (day is None) != (starts is None) and "usual_from" not in self.errors:
            self.add_error("usual_from", gettext("Give day and hour, or leave both empty."))
        if starts and ends and ends <= starts:
            self.add_error("usual_until", gettext("The end has to be after the start."))
        return given


class CountsForm(forms.Form):
    """How many sessions of each kind a group has in a week of the phase."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for kind in PLANNED_KINDS:
            self.fields[kind.value] = forms.IntegerField(label=kind.label, min_value=0, max_value=7)

    @property
    def counts(self) -> dict[str, int]:
        """By kind, how many."""
        return {kind.value: self.cleaned_data[kind.value] for kind in PLANNED_KINDS}


class PolicyForm(forms.Form):
    """Which rules the group has in the phase; the numbers are asked only where they are its own."""

    style = forms.ChoiceField(
        label=_("Rules in this phase"), widget=forms.RadioSelect,
        choices=[("usual", _("usual")), ("gentler", _("gentler")), ("own", _("own"))],
    )  # fmt: skip

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name, (label, least, most) in OWN_FIELDS.items():
            self.fields[name] = forms.IntegerField(label=label, required=False, min_value=least, max_value=most)
        for name, label in OWN_GAPS.items():
            self.fields[name] = forms.IntegerField(label=label, required=False, min_value=0, max_value=96)
        self.fields["excused_percent"] = forms.IntegerField(
            label=_("Excused from a session, at most per cent"), required=False, min_value=0, max_value=50
        )

    @property
    def own_fields(self) -> list[forms.BoundField]:
        """The numbers of a group's own rules."""
        return [self[name] for name in (*OWN_FIELDS, *OWN_GAPS, "excused_percent")]


class ModifierForm(forms.Form):
    """What is special about a week, and for whom."""

    reason = forms.ChoiceField(label=_("What"), choices=WeekModifier.Reason.choices)
    most_sessions = forms.IntegerField(
        label=_("At most so many sessions"),
        required=False,
        min_value=0,
        max_value=7,
        help_text=_("Empty: no limit, it is noted only."),
    )
    squad = forms.ChoiceField(label=_("For whom"), required=False)
    born_from = DayField(label=_("Or a school year: born from"), required=False)
    born_until = DayField(label=_("up to"), required=False)
    last_week = forms.IntegerField(
        label=_("Up to week"), required=False, min_value=1, help_text=_("Empty: this week alone.")
    )

    def __init__(self, *args: Any, squads: Sequence[Squad], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["squad"].choices = [("", _("the whole club")), *((str(one.pk), one.name) for one in squads)]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        first, last = given.get("born_from"), given.get("born_until")
        if (first is None) != (last is None) or (first and last and last < first):
            self.add_error("born_until", gettext("Give both days, the later one here."))
        if first and given.get("squad"):
            self.add_error("squad", gettext("Choose a squad or a school year, not both."))
        return given


class MeetDayForm(forms.Form):
    """On which day a meet is."""

    day = DayField(label=_("Day"))


def policy_initial(style: str, policy: Mapping[str, Any]) -> dict[str, Any]:
    """A kept policy as the form shows it."""
    table = policy.get("separation_h", {})
    gaps = {name: table.get(name.split(".")[0], {}).get(name.split(".")[1]) for name in OWN_GAPS}
    share = policy.get("max_excused_share")
    percent = None if share is None else round(100 * share)
    return {"style": style, "excused_percent": percent} | gaps | {name: policy.get(name) for name in OWN_FIELDS}


def policy_of(given: Mapping[str, Any], separation_h: Mapping[str, Mapping[str, float]]) -> dict[str, Any]:
    """What was typed as the planning contract's policy; gaps stand in the group's usual table."""
    found = {name: given[name] for name in OWN_FIELDS if given.get(name) is not None}
    if given.get("excused_percent") is not None:
        found["max_excused_share"] = given["excused_percent"] / 100
    gaps = {name: given[name] for name in OWN_GAPS if given.get(name) is not None}
    if gaps:
        table = {earlier: dict(row) for earlier, row in separation_h.items()}
        for name, hours in gaps.items():
            earlier, later = name.split(".")
            table.setdefault(earlier, {})[later] = hours
        found["separation_h"] = table
    return found


def groups_named(groups: Sequence[EventGroup]) -> dict[str, str]:
    """Names by id."""
    return {str(group.pk): group.name for group in groups}
