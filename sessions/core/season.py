"""Which demands a week has: its phase, the phase's pattern for each group, and what is special about the week."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from uuid import UUID

from sessions.core.iso_week import IsoWeek
from sessions.core.stretches import Stretch

TOUCHED_ABOVE = 1 / 3
"""The share of a group's athletes above which a squad's modifier shortens the whole group's week: as many as the
planner may excuse from one session (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PhaseWeeks:
    """A phase and its weeks of the season, counted from 1, the last one included."""

    id: UUID
    first_week: int
    last_week: int


@dataclass(frozen=True, slots=True)
class Pattern:
    """One session of a group's weekly pattern; `priority` 3 is dropped last, `order` breaks ties."""

    id: UUID
    group: UUID
    priority: int
    order: int


@dataclass(frozen=True, slots=True)
class Modifier:
    """At most so many sessions in a week (None: no limit), for one squad or (squad None) for the club."""

    squad: UUID | None
    most_sessions: int | None


def week_of_season(*, first_monday: date, weeks: int, monday: date) -> int | None:
    """The number, from 1, of the week that begins on `monday`; None outside the season."""
    number = (monday - first_monday).days // 7 + 1
    return number if 1 <= number <= weeks else None


def phase_of_week(phases: Sequence[PhaseWeeks], week: int) -> PhaseWeeks | None:
    """The first phase that holds the week; None in a gap between phases."""
    return next((phase for phase in phases if phase.first_week <= week <= phase.last_week), None)


def demands_of_week(
    patterns: Sequence[Pattern],
    modifiers: Sequence[Modifier],
    squad_shares: Mapping[UUID, Mapping[UUID, float]],
) -> list[Pattern]:
    """The patterns that become demands, in the order given.

    `squad_shares`: by group and squad the share (0 to 1) of the group's athletes who are in the squad. A group whose
    week is limited keeps the sessions of highest priority, then of lowest order.
    """
    kept: set[UUID] = set()
    for group in {pattern.group for pattern in patterns}:
        own = sorted((p for p in patterns if p.group == group), key=lambda p: (-p.priority, p.order, p.id))
        kept.update(pattern.id for pattern in own[: _most_sessions(modifiers, squad_shares.get(group, {}))])
    return [pattern for pattern in patterns if pattern.id in kept]


def _most_sessions(modifiers: Sequence[Modifier], shares: Mapping[UUID, float]) -> int | None:
    """The limit of one group, None where there is none."""
    limits = [
        modifier.most_sessions
        for modifier in modifiers
        if modifier.most_sessions is not None
        and (modifier.squad is None or shares.get(modifier.squad, 0.0) > TOUCHED_ABOVE)
    ]
    return min(limits, default=None)


def squad_limits(modifiers: Sequence[Modifier]) -> dict[UUID, int]:
    """By squad the most sessions that each of its athletes comes to in the week."""
    found: dict[UUID, int] = {}
    for modifier in modifiers:
        if modifier.squad is not None and modifier.most_sessions is not None:
            found[modifier.squad] = min(modifier.most_sessions, found.get(modifier.squad, modifier.most_sessions))
    return found


def minutes_of_sessions(lengths_min: Sequence[int], most_sessions: int) -> int:
    """The minutes of the `most_sessions` longest sessions: so many sessions as a cap in minutes."""
    return sum(sorted(lengths_min, reverse=True)[:most_sessions])


def usual_starts(week: IsoWeek, *, weekday: int, slot: tuple[time, time | None], duration_min: int) -> Stretch:
    """The starts that lie in a usual slot: weekday 1 is Monday, the slot's end may be open.

    Every start from which the session ends within the slot; the slot's first minutes at least, if it is too short.
    """
    day = week.days[weekday - 1]
    first = week.at(day, slot[0])
    last = week.at(day, slot[1]) - timedelta(minutes=duration_min) if slot[1] is not None else first
    return first, max(first, last) + timedelta(minutes=1)
