"""A week's place in its club's season: number, phase, pattern and modifiers."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from athletes.models import EventGroup
from athletes.viewer import Viewer
from sessions.core.season import Modifier, PhaseWeeks, phase_of_week, week_of_season
from sessions.core.season_policies import policy_in_phase
from sessions.models import PatternItem, Phase, PhasePolicy, SeasonPlan, WeekModifier


@dataclass(frozen=True)
class SeasonWeek:
    """One week of a season; `phase` is None in a gap between phases."""

    season: SeasonPlan
    number: int
    phase: Phase | None
    modifiers: tuple[WeekModifier, ...]

    @property
    def limits(self) -> list[Modifier]:
        return [
            Modifier(modifier.squad_id or modifier.school_year, modifier.most_sessions) for modifier in self.modifiers
        ]


def season_week(*, viewer: Viewer, monday: date) -> SeasonWeek | None:
    """The week in the latest season that holds it; None outside every season; three queries."""
    for season in SeasonPlan.objects.filter(club=viewer.club_id, first_monday__lte=monday):
        number = week_of_season(first_monday=season.first_monday, weeks=season.weeks, monday=monday)
        if number is not None:
            return _of_season(season, number)
    return None


def pattern_items(*, phase: Phase) -> list[PatternItem]:
    """The phase's weekly pattern, by group, with venues and coaches; a fixed number of queries."""
    rows = PatternItem.objects.filter(phase=phase).order_by("group__order", "group__name", "order", "id")
    return list(rows.select_related("group").prefetch_related("venues", "coaches", "qualified"))


def policies_in_force(*, phase: Phase | None, groups: Iterable[EventGroup]) -> dict[UUID, dict[str, Any]]:
    """By group, whose settings were read with it, the rules that hold in a phase: usual, gentler or own; one query."""
    rules = {row.group_id: row for row in PhasePolicy.objects.filter(phase=phase)} if phase else {}
    found = {}
    for group in groups:
        usual = group.settings.policy if hasattr(group, "settings") else {}
        rule = rules.get(group.pk)
        found[group.pk] = policy_in_phase(usual, rule.style, rule.policy) if rule else dict(usual)
    return found


def _of_season(season: SeasonPlan, number: int) -> SeasonWeek:
    phases = list(season.phases.all())
    weeks = [PhaseWeeks(phase.pk, phase.first_week, phase.last_week) for phase in phases]
    found = phase_of_week(weeks, number)
    modifiers = WeekModifier.objects.filter(season=season, week=number).select_related("squad")
    return SeasonWeek(
        season=season,
        number=number,
        phase=next((phase for phase in phases if found and phase.pk == found.id), None),
        modifiers=tuple(modifiers.order_by("reason", "id")),
    )
