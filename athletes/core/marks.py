"""Marks: times as typed, official rounding, the step from hand to electronic timing, bests by season.

Times are whole milliseconds: with binary floats a watch reading may round up once too often.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

MS = 1000
HAND_STEP_MS, ELECTRONIC_STEP_MS = 100, 10
LEAST_MS, MOST_MS = 3 * MS, 4 * 3600 * MS
"""Times outside are taken for a slip of the keys (common practice, no source)."""

WIND_LIMIT_TENTHS = 20
"""Up to 2.0 m/s from behind a time counts as a best (World Athletics rules; value from memory)."""

WIND_TO_M = 200
"""Wind counts on the straight and up to 200 m (World Athletics rules; value from memory)."""

MOST_WIND_TENTHS = 150
_TIME = re.compile(r"(?:(?:(\d{1,2}):)?(\d{1,3}):)?(\d{1,3})(?:[.,](\d{1,3}))?", re.ASCII)
_WIND = re.compile(r"([+\-\u2212]?)(\d{1,2})(?:[.,](\d))?", re.ASCII)


class Event(StrEnum):
    """Running events with a time; the number is the distance in metres, `h` hurdles, `sc` steeplechase."""

    M50 = "50"
    M60 = "60"
    M80 = "80"
    M100 = "100"
    M150 = "150"
    M200 = "200"
    M300 = "300"
    M400 = "400"
    M600 = "600"
    M800 = "800"
    M1000 = "1000"
    M1500 = "1500"
    MILE = "mile"
    M2000 = "2000"
    M3000 = "3000"
    M5000 = "5000"
    M10000 = "10000"
    H60 = "60h"
    H80 = "80h"
    H100 = "100h"
    H110 = "110h"
    H300 = "300h"
    H400 = "400h"
    SC2000 = "2000sc"
    SC3000 = "3000sc"

    @property
    def distance_m(self) -> int:
        """Metres, a mile rounded down."""
        return 1609 if self is Event.MILE else int(re.sub(r"\D", "", self))

    @property
    def has_wind(self) -> bool:
        """Whether wind decides if a time counts."""
        return self.distance_m <= WIND_TO_M


class TimeFault(ValueError):
    """A time, or a wind, that cannot be read or cannot be meant."""


def read_time(text: str) -> int:
    """Milliseconds of "12.34", "12,3", "2:05.3" or "1:02:03". Raises TimeFault."""
    found = _TIME.fullmatch(text.strip())
    if found is None:
        raise TimeFault(text)
    hours, minutes, seconds, part = found.groups()
    if (minutes is not None and int(seconds) >= 60) or (hours is not None and int(minutes) >= 60):
        raise TimeFault(text)
    whole = int(hours or 0) * 3600 + int(minutes or 0) * 60 + int(seconds)
    ms = whole * MS + int((part or "0").ljust(3, "0"))
    if not LEAST_MS <= ms <= MOST_MS:
        raise TimeFault(text)
    return ms


def read_wind(text: str) -> int | None:
    """Tenths of a metre a second of "+1.3", "-0,4" or "2"; None where nothing is written. Raises TimeFault."""
    if not text.strip():
        return None
    found = _WIND.fullmatch(text.strip())
    if found is None:
        raise TimeFault(text)
    sign, whole, part = found.groups()
    tenths = int(whole) * 10 + int(part or 0)
    if tenths > MOST_WIND_TENTHS:
        raise TimeFault(text)
    return tenths if sign in ("", "+") else -tenths


def official_ms(time_ms: int, *, is_hand: bool) -> int:
    """A time on a track as it is entered: by hand up to the next tenth, electronic up to the next hundredth, each
    unless it is exact (10.11 by hand: 10.2; World Athletics Technical Rule 19, wording from memory)."""
    step = HAND_STEP_MS if is_hand else ELECTRONIC_STEP_MS
    return -(-time_ms // step) * step


def added_ms(event: Event) -> int:
    """What a hand time lacks against an electronic one: 0.24 s up to 200 m, 0.14 s for 400 m, nothing above (ranking
    guides of the trade). Between 200 and 400 m it is 0.14 s (common practice, no source)."""
    if event.distance_m <= 200:
        return 240
    return 140 if event.distance_m <= 400 else 0


def compared_ms(event: Event, time_ms: int, *, is_hand: bool) -> int:
    """By what marks of one event are compared: the official time, one by hand with what it lacks."""
    official = official_ms(time_ms, is_hand=is_hand)
    return official + added_ms(event) if is_hand else official


def counts(event: Event, wind_tenths: int | None) -> bool:
    """Whether a time counts as a best: not with more than 2.0 m/s from behind, where wind decides. Without a reading
    it counts, and whoever shows it says that there was none."""
    return not event.has_wind or wind_tenths is None or wind_tenths <= WIND_LIMIT_TENTHS


def written(time_ms: int, *, is_hand: bool) -> str:
    """An official time as the trade writes it: 12.4 by hand, 12.64 or 2:05.30 electronic."""
    ms = official_ms(time_ms, is_hand=is_hand)
    minutes, rest = divmod(ms, 60 * MS)
    hours, minutes = divmod(minutes, 60)
    part = f"{rest % MS // HAND_STEP_MS}" if is_hand else f"{rest % MS // ELECTRONIC_STEP_MS:02}"
    seconds = rest // MS
    if hours:
        return f"{hours}:{minutes:02}:{seconds:02}.{part}"
    return f"{minutes}:{seconds:02}.{part}" if minutes else f"{seconds}.{part}"


@dataclass(frozen=True, slots=True)
class Mark:
    """One time: milliseconds as read off, wind in tenths of a metre a second, the day."""

    event: Event
    time_ms: int
    is_hand: bool
    wind_tenths: int | None
    day: date

    @property
    def season(self) -> int:
        """The calendar year (common practice, no source)."""
        return self.day.year

    @property
    def compared_ms(self) -> int:
        return compared_ms(self.event, self.time_ms, is_hand=self.is_hand)

    @property
    def counts(self) -> bool:
        return counts(self.event, self.wind_tenths)


@dataclass(frozen=True, slots=True)
class Bests:
    """One event: the best of all, and the best of each season, newest first; only of marks that count."""

    event: Event
    best: Mark | None
    seasons: tuple[tuple[int, Mark], ...]


def bests(marks: Iterable[Mark]) -> Sequence[Bests]:
    """Bests by event, in the order of the events; of equal times the earlier one. An event of which no mark counts has
    no best."""
    found: dict[Event, dict[int, Mark]] = {}
    events = set()
    for mark in sorted(marks, key=lambda one: (one.compared_ms, one.day)):
        events.add(mark.event)
        if mark.counts:
            found.setdefault(mark.event, {}).setdefault(mark.season, mark)
    return [_bests_of(event, found.get(event, {})) for event in Event if event in events]


def _bests_of(event: Event, seasons: dict[int, Mark]) -> Bests:
    best = min(seasons.values(), key=lambda one: (one.compared_ms, one.day), default=None)
    return Bests(event, best, tuple(sorted(seasons.items(), reverse=True)))
