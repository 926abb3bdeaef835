"""Training and matches of another sport, as families say them: when they are, and what the planner is told of them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from sessions.core.iso_week import DAYS, IsoWeek, monday_of

EFFORTS = ("easy", "moderate", "hard")
"""How hard it is, the gentlest first: kinds of the planning contract."""
_ID = re.compile(r"([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})-sport(\d{8})")


class PartOfDay(StrEnum):
    """Where the hours are not known: the whole part is kept free."""

    MORNING = "morning"
    AFTERNOON = "afternoon"
    EVENING = "evening"


HOURS: Mapping[str, tuple[time, time]] = {
    PartOfDay.MORNING: (time(8), time(12)),
    PartOfDay.AFTERNOON: (time(13), time(17)),
    PartOfDay.EVENING: (time(17), time(21)),
}
"""The wall hours of each part of the day (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class SaidSport:
    """One thing that was said: on `first_day`, and every seven days after it up to `last_day`, from `starts` to `ends`
    of the wall clock of one day, about `minutes` of it. `id` is a UUID's text."""

    id: str
    effort: str
    first_day: date
    last_day: date
    starts: time
    ends: time
    minutes: int

    def days(self, first: date, last: date) -> Iterator[date]:
        """Its days from `first` to `last`, both counted."""
        late = max(0, (first - self.first_day).days)
        day = self.first_day + timedelta(days=-(-late // DAYS) * DAYS)
        while day <= min(last, self.last_day):
            yield day
            day += timedelta(days=DAYS)


@dataclass(frozen=True, slots=True)
class SportTime:
    """One training or match: aware start and end, the minutes that it counts. `id` names it in a problem."""

    id: str
    effort: str
    starts_at: datetime
    ends_at: datetime
    minutes: int


def sport_times(said: Iterable[SaidSport], zone: ZoneInfo, first: date, last: date) -> list[SportTime]:
    """One athlete's times on the days from `first` to `last`, in order, never two at once.

    What overlaps is the same thing said twice: one time from the earliest start to the latest end, as hard as the
    hardest and as long as the longest of them.
    """
    found: list[SportTime] = []
    times = (_time(one, day, zone) for one in said for day in one.days(first, last))
    for one in sorted(times, key=lambda one: (one.starts_at, one.id)):
        if found and one.starts_at < found[-1].ends_at:
            found[-1] = _joined(found[-1], one)
        else:
            found.append(one)
    return found


def _time(said: SaidSport, day: date, zone: ZoneInfo) -> SportTime:
    """The time of one day; where the clocks jump over its hours, its minutes from the start on."""
    week = IsoWeek(monday_of(day), zone)
    starts_at, ends_at = week.at(day, said.starts), week.at(day, said.ends)
    if ends_at <= starts_at:
        ends_at = starts_at + timedelta(minutes=said.minutes)
    return SportTime(f"{said.id}-sport{day:%Y%m%d}", said.effort, starts_at, ends_at, said.minutes)


def _joined(one: SportTime, other: SportTime) -> SportTime:
    return replace(
        one,
        effort=max(one.effort, other.effort, key=EFFORTS.index),
        ends_at=max(one.ends_at, other.ends_at),
        minutes=max(one.minutes, other.minutes),
    )


def said_of(item: str) -> tuple[str, date] | None:
    """Of an item of a problem what was said and the day that it stands for; None for any other item."""
    found = _ID.fullmatch(item)
    return (found[1], datetime.strptime(found[2], "%Y%m%d").date()) if found else None


def not_the_clubs(document: Mapping[str, Any]) -> frozenset[str]:
    """The fixed items of a problem that the club neither moves nor drops: other sports."""
    return frozenset(row["id"] for row in document["fixed"] if said_of(row["id"]) is not None)


def in_the_way(
    kinds: Iterable[str],
    starts_at: datetime,
    ends_at: datetime,
    times: Sequence[SportTime],
    separation_h: Mapping[str, Mapping[str, float]],
) -> SportTime | None:
    """The first of one athlete's times that overlaps a session of these kinds, or lies nearer to it than the planning
    contract's table allows (hours from the end of the earlier kind to the start of the later one)."""
    own = tuple(kinds)
    for one in times:
        if one.starts_at < ends_at and starts_at < one.ends_at:
            return one
        is_before = one.ends_at <= starts_at
        gap = (starts_at - one.ends_at) if is_before else (one.starts_at - ends_at)
        pairs = ((one.effort, kind) if is_before else (kind, one.effort) for kind in own)
        asked = max((separation_h.get(earlier, {}).get(later, 0) for earlier, later in pairs), default=0)
        if gap < timedelta(hours=float(asked)):
            return one
    return None
