"""What the planner works on: the planning contract's problem as frozen dataclasses.

Instants are whole minutes since 1970-01-01T00:00 UTC, lengths and separations whole minutes.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from functools import cached_property

from sessions.core.planner.local_time import LocalTime


class Kind(StrEnum):
    MEET = "meet"
    HARD = "hard"
    MODERATE = "moderate"
    TECHNIQUE = "technique"
    EASY = "easy"


STRENUOUS = frozenset({Kind.HARD, Kind.MEET})

# Hours from the end of the earlier kind to the start of the later one: common practice, no source.
DEFAULT_SEPARATION_H: Mapping[str, Mapping[str, int]] = {
    "hard": {"technique": 34, "hard": 44, "meet": 36, "moderate": 12},
    "meet": {"technique": 34, "hard": 44, "moderate": 12},
    "technique": {"technique": 44, "hard": 12, "meet": 24},
    "moderate": {"technique": 16, "hard": 12, "meet": 16},
    "easy": {"technique": 8},
}


def default_separation() -> dict[tuple[Kind, Kind], int]:
    """The default separations in minutes, by (earlier kind, later kind)."""
    return {
        (Kind(earlier), Kind(later)): 60 * hours
        for earlier, row in DEFAULT_SEPARATION_H.items()
        for later, hours in row.items()
    }


@dataclass(frozen=True)
class Span:
    """The half-open interval [start, end)."""

    start: int
    end: int

    def holds(self, start: int, end: int) -> bool:
        return self.start <= start and end <= self.end

    def meets(self, start: int, end: int) -> bool:
        return self.start < end and start < self.end


@dataclass(frozen=True)
class Policy:
    """A group's or the problem's rules; the default numbers are common practice, no source."""

    separation: Mapping[tuple[Kind, Kind], int] = field(default_factory=default_separation)
    sessions_per_day: int | None = 1
    rest_days_per_week: int = 1
    max_excused_share: Fraction = Fraction(34, 100)
    excusals_per_week: int | None = None
    travel_min: int = 0
    fresh_after_min: int = 48 * 60
    ideal_between_technique_min: int = 60 * 60


@dataclass(frozen=True)
class Weights:
    unplaced: int = 10000
    excused: int = 200
    moved: int = 40
    coach_changed: int = 20
    unpreferred: int = 30
    tired: int = 15
    close_pair: int = 10
    coach_peak: int = 5


@dataclass(frozen=True)
class Athlete:
    id: str
    weekly_minutes_cap: int | None = None
    unavailable: tuple[Span, ...] = ()


@dataclass(frozen=True)
class Group:
    id: str
    athletes: tuple[str, ...]
    policy: Policy


@dataclass(frozen=True)
class Coach:
    id: str
    available: tuple[Span, ...]
    max_sessions_per_day: int


@dataclass(frozen=True)
class Venue:
    id: str
    lanes: int
    open: tuple[Span, ...]


@dataclass(frozen=True)
class Item:
    """A block of training with a place in time: a fixed item, or a demand once it is placed."""

    id: str
    kinds: frozenset[Kind]
    start: int
    end: int
    groups: tuple[str, ...]
    coaches: tuple[str, ...]
    venue: str | None
    lanes: int
    load_min: int
    is_fixed: bool


@dataclass(frozen=True)
class Fixed:
    item: Item
    athletes: tuple[str, ...] = ()
    absent: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Demand:
    id: str
    kinds: frozenset[Kind]
    group: str
    duration_min: int
    priority: int
    windows: tuple[Span, ...]
    preferred: tuple[Span, ...]
    venues: tuple[str, ...]
    lanes: int
    coaches: tuple[str, ...]
    observers: int
    qualified: tuple[str, ...]


@dataclass(frozen=True)
class Current:
    """Where a demand stands in the plan that is in force."""

    demand: str
    start: int
    venue: str
    coaches: frozenset[str]


@dataclass(frozen=True)
class Placement:
    """Where a demand goes. `excused` are those of its athletes who stay away from it by the plan."""

    demand: str
    start: int
    venue: str
    coaches: tuple[str, ...]
    excused: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Problem:
    timezone: str
    first_day: datetime.date
    days: int
    grid_min: int
    policy: Policy
    weights: Weights
    athletes: Mapping[str, Athlete]
    groups: Mapping[str, Group]
    coaches: Mapping[str, Coach]
    venues: Mapping[str, Venue]
    fixed: Mapping[str, Fixed]
    demands: Mapping[str, Demand]
    current: Mapping[str, Current]

    @cached_property
    def local(self) -> LocalTime:
        return LocalTime(self.timezone)

    @cached_property
    def starts(self) -> dict[str, tuple[int, ...]]:
        """Every start on the grid that each demand's windows allow, venues and coaches aside."""
        return {
            demand.id: self.local.grid_starts(
                [(window.start, window.end - demand.duration_min) for window in demand.windows], self.grid_min
            )
            for demand in self.demands.values()
        }

    def item_of(self, placement: Placement) -> Item:
        """The placed demand as an item of the calendar."""
        demand = self.demands[placement.demand]
        return Item(
            id=demand.id,
            kinds=demand.kinds,
            start=placement.start,
            end=placement.start + demand.duration_min,
            groups=(demand.group,),
            coaches=placement.coaches,
            venue=placement.venue,
            lanes=demand.lanes,
            load_min=demand.duration_min,
            is_fixed=False,
        )
