"""Instants as whole minutes, and the wall clock, dates and ISO weeks of one time zone."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from functools import lru_cache
from zoneinfo import ZoneInfo

_EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)
_EPOCH_DAY = datetime.date(1970, 1, 1).toordinal()
_MINUTE = datetime.timedelta(minutes=1)
_INSTANT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(Z|[+-]\d{2}(:?\d{2})?)", re.ASCII)
DAY_MIN = 24 * 60


def read_instant(text: str) -> int:
    """Minutes since 1970 of an ISO 8601 instant with offset, to the minute; ValueError if it is none."""
    if not _INSTANT.fullmatch(text):
        raise ValueError(text)
    return (datetime.datetime.fromisoformat(text) - _EPOCH) // _MINUTE


class LocalTime:
    """The clock and calendar of one zone. Dates are proleptic ordinals, ISO weeks count from Monday of year 1."""

    def __init__(self, timezone: str) -> None:
        self._zone = ZoneInfo(timezone)
        self.offset_min = lru_cache(maxsize=None)(self._offset_min)
        self._hour_offsets = lru_cache(maxsize=None)(self._offsets_in_hour)

    def moment(self, minute: int) -> datetime.datetime:
        """The instant as an aware datetime of the zone; OverflowError beyond the years 1 to 9999."""
        return (_EPOCH + minute * _MINUTE).astimezone(self._zone)

    def _offset_min(self, minute: int) -> int:
        offset = self.moment(minute).utcoffset()
        return 0 if offset is None else offset // _MINUTE

    def _offsets_in_hour(self, hour: int) -> tuple[int, int]:
        return self.offset_min(hour * 60), self.offset_min(hour * 60 + 59)

    def wall_min(self, minute: int) -> int:
        """Minutes on the wall clock since its own 1970-01-01T00:00."""
        first, last = self._hour_offsets(minute // 60)
        return minute + (first if first == last else self.offset_min(minute))

    def date(self, minute: int) -> int:
        return _EPOCH_DAY + self.wall_min(minute) // DAY_MIN

    def week(self, minute: int) -> int:
        return week_of(self.date(minute))

    def midnight(self, day: datetime.date) -> int:
        """The instant at which the date begins."""
        return (datetime.datetime(day.year, day.month, day.day, tzinfo=self._zone) - _EPOCH) // _MINUTE

    def grid_starts(self, spans: Iterable[tuple[int, int]], grid_min: int) -> tuple[int, ...]:
        """Every instant of the closed spans whose wall-clock minutes are divisible by `grid_min`, each once."""
        found: set[int] = set()
        for first, last in spans:
            minute = first
            while minute <= last:
                beyond = self.wall_min(minute) % grid_min
                if beyond == 0:
                    found.add(minute)
                minute += _step(minute, beyond, grid_min)
        return tuple(sorted(found))

    def text(self, minute: int) -> str:
        return self.moment(minute).isoformat(timespec="minutes")


def _step(minute: int, beyond: int, grid_min: int) -> int:
    """How far to the next minute worth looking at: the next grid minute, but never past a full quarter of an hour
    (clocks change at those, common practice)."""
    return min(grid_min - beyond, 15 - minute % 15)


def week_of(date: int) -> int:
    """The ISO week that holds the date (an ordinal)."""
    return (date - 1) // 7


def day_name(date: int) -> str:
    return ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")[(date - 1) % 7]
