"""Reads a calendar file of RFC 5545 from elsewhere: what takes place when, and what could not be read and why.

The only module that knows the libraries for calendar files. Each event is read by itself, so that a bad one never sinks
a file; what is endless is bounded.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from itertools import islice
from typing import Any
from zoneinfo import ZoneInfo

import recurring_ical_events
from dateutil.rrule import rrulestr
from icalendar import Calendar, Component

from sessions.core.calendar_files.taking_apart import EventLines, FileLines, taken_apart

MOST_BYTES = 1_000_000
MOST_EVENTS = 2_000
MOST_OCCURRENCES = 500
MOST_DAYS = 550
MOST_A_DAY = 24
OLDEST_YEARS = 30
"""Bounds of this house, no published source: a file's octets and events, what one event may repeat, about 18 months
ahead, times a day, and how long ago a rule by days or weeks may have begun."""

LONGEST_TEXT, LONGEST_UID, HIGHEST_SEQUENCE = 120, 255, 2**31 - 1
BY_DAYS = ("DAILY", "WEEKLY")
SLOWER = ("MONTHLY", "YEARLY")
PAGE = timedelta(days=50)
NEEDED = {"DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID"}


class Refusal(StrEnum):
    """Why an event was not read."""

    NO_START = "no_start"
    UNREADABLE = "unreadable"
    UNKNOWN_ZONE = "unknown_zone"
    TOO_FINE = "too_fine"
    TOO_OLD = "too_old"
    ENDS_BEFORE_START = "ends_before_start"
    TOO_MANY_EVENTS = "too_many_events"
    NOT_CLOSED = "not_closed"


class NotACalendar(ValueError):
    """The file holds no calendar, or is too large; `is_too_large` says which."""

    def __init__(self, *, is_too_large: bool = False) -> None:
        super().__init__("too large" if is_too_large else "no calendar")
        self.is_too_large = is_too_large


class _No(Exception):
    """An event is refused."""

    def __init__(self, because: Refusal) -> None:
        super().__init__(because)
        self.because = because


@dataclass(frozen=True, slots=True)
class _ReadEvent:
    """An event of the file, and the calendar that it is by itself."""

    lines: EventLines
    calendar: Calendar


@dataclass(frozen=True, slots=True)
class Refused:
    """An event that was not read: its number in the file, what it is called, and why."""

    number: int
    title: str
    because: Refusal


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One time that something takes place. `uid` and `instance` name it in every later version of the file: the
    instance is the start that its rule gave it (empty where there is no rule). All-day ones last from midnight to
    midnight of the club's clock."""

    uid: str
    instance: str
    sequence: int
    starts_at: datetime
    ends_at: datetime
    is_all_day: bool
    title: str
    place: str
    is_cancelled: bool


@dataclass(frozen=True)
class FileRead:
    """What a file says within the days asked for: occurrences in order of time, what was refused, and how many events
    were read; `is_cut` where a rule goes on beyond the most that one may repeat; `without_id` of them name no UID,
    against RFC 5545 (3.6.1), so that no later file can say that one moved."""

    occurrences: tuple[Occurrence, ...]
    refused: tuple[Refused, ...]
    events: int
    is_cut: bool
    without_id: int = 0


def read_calendar(data: bytes, *, zone: ZoneInfo, first_day: date, days: int = MOST_DAYS) -> FileRead:
    """Read a file's events as they take place from `first_day` on, for `days` but at most 550 days.

    Wall times without a zone are those of `zone`, the club's (RFC 5545, 3.3.5: floating). A rule's time that the clock
    leaves out is none, and is not counted (3.3.10); one that is said itself counts on from before the gap (3.3.5).
    Raises NotACalendar where nothing can be read at all; what is wrong with one event is told in `refused`.
    """
    if len(data) > MOST_BYTES:
        raise NotACalendar(is_too_large=True)
    file = taken_apart(data)
    if not file.is_calendar:
        raise NotACalendar()
    last_day = first_day + timedelta(days=min(days, MOST_DAYS))
    bounds = (datetime.combine(first_day, time(), zone), datetime.combine(last_day, time(), zone))
    return _Reading(file, zone, bounds).read()


class _Reading:
    """Reads the events of one file, series by series."""

    def __init__(self, file: FileLines, zone: ZoneInfo, bounds: tuple[datetime, datetime]) -> None:
        self.file, self.zone, self.bounds = file, zone, bounds
        self.refused = [_no(event, Refusal.NOT_CLOSED) for event in file.unclosed]
        self.refused += [_no(event, Refusal.TOO_MANY_EVENTS) for event in file.events[MOST_EVENTS:]]
        self.is_cut = False
        self.without_id: set[int] = set()

    def read(self) -> FileRead:
        found: list[Occurrence] = []
        count = 0
        for events in self._series():
            try:
                found += self._occurrences(events)
                count += len(events)
            except Exception as fault:  # whatever a stranger's file brings about, the other events are read
                self.refused += [_no(event.lines, _because(fault)) for event in events]
        found.sort(key=lambda one: (one.starts_at, one.uid, one.instance))
        self.refused.sort(key=lambda one: one.number)
        without_id = self.without_id - {one.number for one in self.refused}
        return FileRead(tuple(found), tuple(self.refused), count, self.is_cut, len(without_id))

    def _series(self) -> list[list[_ReadEvent]]:
        """The events that can be read by themselves, those of one UID together; without one each stands alone."""
        found: dict[str, list[_ReadEvent]] = defaultdict(list)
        for event in self.file.events[:MOST_EVENTS]:
            try:
                calendar = Calendar.from_ical(self.file.with_events([event]))
                [component] = calendar.walk("VEVENT")
                self._check(component)
            except Exception as fault:  # as above
                self.refused.append(_no(event, _because(fault)))
            else:
                if not component.get("UID"):
                    self.without_id.add(event.number)
                uid = str(component.get("UID") or f"number {event.number}")
                found[uid].append(_ReadEvent(event, calendar))
        return list(found.values())

    def _check(self, component: Component) -> None:
        """Raises _No where the event cannot be placed on a calendar, or is finer than this house follows."""
        if NEEDED & {str(name).upper() for name, _ in component.errors}:
            raise _No(Refusal.UNREADABLE)
        if "DTSTART" not in component:
            raise _No(Refusal.NO_START)
        for name in NEEDED & component.keys() - {"RRULE", "DURATION"}:
            for value in _each(component[name]):
                _check_zone(value)
        start = _dt(component, "DTSTART")
        if "DTEND" in component and _instant(_dt(component, "DTEND"), self.zone) < _instant(start, self.zone):
            raise _No(Refusal.ENDS_BEFORE_START)
        for rule in _each(component.get("RRULE", [])):
            if not rule:  # written, but empty
                component.pop("RRULE")
                continue
            _check_rule(rule, _instant(start, self.zone), self.bounds[0])

    def _occurrences(self, events: Sequence[_ReadEvent]) -> list[Occurrence]:
        """When one series takes place: its rule, what is left out, added and moved; cancelled ones as such."""
        calendar = events[0].calendar
        if len(events) > 1:
            calendar = Calendar.from_ical(self.file.with_events([event.lines for event in events]))
        components = calendar.walk("VEVENT")
        for component in components:
            self._count_without_missing(component)
        said = {_wall(moment) for component in components for moment in _said_itself(component)}
        repeats = any(name in component for component in components for name in ("RRULE", "RDATE", "RECURRENCE-ID"))
        found: dict[tuple[str, datetime], Occurrence] = {}
        for component in self._components(calendar, pages=repeats):
            if self._is_missing(component, said):
                continue
            one = self._occurrence(component, repeats=repeats)
            if self.bounds[0] <= one.starts_at < self.bounds[1] or one.starts_at < self.bounds[0] < one.ends_at:
                found[one.instance, one.starts_at] = one
            if len(found) > MOST_OCCURRENCES:
                self.is_cut = True
                break
        return _named_apart(sorted(found.values(), key=lambda one: one.starts_at)[:MOST_OCCURRENCES])

    def _components(self, calendar: Calendar, *, pages: bool) -> Iterator[Component]:
        """What takes place within the bounds; what repeats is asked for in pages, since it may be endless."""
        query = recurring_ical_events.of(calendar, keep_recurrence_attributes=True)
        begins, last = self.bounds
        while begins < last:
            ends = min(begins + PAGE, last) if pages else last
            yield from sorted(query.between(begins, ends), key=lambda one: _instant(_dt(one, "DTSTART"), self.zone))
            begins = ends

    def _count_without_missing(self, component: Component) -> None:
        """A rule that counts does not count the times that the clock leaves out (3.3.10): it counts to a higher one."""
        rule, start = component.get("RRULE"), _dt(component, "DTSTART")
        if rule is None or isinstance(rule, list) or "COUNT" not in rule or not isinstance(start, datetime):
            return
        wanted = int(rule["COUNT"][0])
        endless = rule.copy()
        del endless["COUNT"]
        all_of = rrulestr(endless.to_ical().decode(), dtstart=start)
        times = islice(all_of, min(wanted + MOST_OCCURRENCES, _MOST_COUNTED))
        there = (number for number, moment in enumerate(times, 1) if number == 1 or not _is_left_out(moment, self.zone))
        last = next(islice(there, max(wanted, 1) - 1, None), None)
        if last is not None:
            rule["COUNT"] = [last]

    def _is_missing(self, component: Component, said: set[datetime]) -> bool:
        """A time that a rule gave and the clock leaves out."""
        start = _dt(component, "DTSTART")
        if not isinstance(start, datetime) or "RRULE" not in component:
            return False
        return _wall(start) not in said and _is_left_out(start, self.zone)

    def _occurrence(self, component: Component, *, repeats: bool) -> Occurrence:
        start, end = _dt(component, "DTSTART"), _dt(component, "DTEND")
        return Occurrence(
            uid=_plain(component.get("UID", ""), LONGEST_UID),
            instance=_name_of(_dt(component, "RECURRENCE-ID")) if repeats else "",
            sequence=min(max(int(component.get("SEQUENCE", 0)), 0), HIGHEST_SEQUENCE),
            starts_at=_instant(start, self.zone),
            ends_at=_instant(end, self.zone),
            is_all_day=not isinstance(start, datetime),
            title=_plain(component.get("SUMMARY", ""), LONGEST_TEXT),
            place=_plain(component.get("LOCATION", ""), LONGEST_TEXT),
            is_cancelled=self.file.is_cancelling or str(component.get("STATUS", "")).upper() == "CANCELLED",
        )


_MOST_COUNTED = 20_000


def _no(event: EventLines, because: Refusal) -> Refused:
    return Refused(event.number, _plain(event.title, LONGEST_TEXT), because)


def _plain(text: object, longest: int) -> str:
    """Text of the file in one line, cut where it is long."""
    return "".join(one if one >= " " else " " for one in str(text))[:longest].strip()


def _because(fault: Exception) -> Refusal:
    return fault.because if isinstance(fault, _No) else Refusal.UNREADABLE


def _named_apart(found: Sequence[Occurrence]) -> list[Occurrence]:
    """What a change of one and all later ones moved carries one name: from the second on its start is its name."""
    seen: set[str] = set()
    apart = []
    for one in found:
        name = one.instance if one.instance not in seen else _name_of(one.starts_at)
        seen.add(name)
        apart.append(Occurrence(one.uid, name, *(getattr(one, field) for field in _AFTER_NAME)))
    return apart


_AFTER_NAME = ("sequence", "starts_at", "ends_at", "is_all_day", "title", "place", "is_cancelled")


def _each(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


def _check_zone(value: Any) -> None:
    """A wall time, also of a period, of a zone that neither the file nor the time zone database knows."""
    moments = [one.dt for one in value.dts] if hasattr(value, "dts") else [value.dt]
    if "TZID" in value.params:
        for moment in (one[0] if isinstance(one, tuple) else one for one in moments):
            if isinstance(moment, datetime) and moment.tzinfo is None:
                raise _No(Refusal.UNKNOWN_ZONE)


def _check_rule(rule: Any, start: datetime, first: datetime) -> None:
    """Raises _No for rules finer than a day, and for those by days or weeks that began very long ago."""
    [often] = [str(one).upper() for one in rule.get("FREQ", [])] or [""]
    if often not in BY_DAYS + SLOWER:
        raise _No(Refusal.TOO_FINE if often in ("HOURLY", "MINUTELY", "SECONDLY") else Refusal.UNREADABLE)
    a_day = 1
    for name in ("BYHOUR", "BYMINUTE", "BYSECOND"):
        a_day *= max(len(_each(rule.get(name, []))), 1)
    if a_day > MOST_A_DAY:
        raise _No(Refusal.TOO_FINE)
    if often in BY_DAYS and first.year - start.year > OLDEST_YEARS and "COUNT" not in rule:
        raise _No(Refusal.TOO_OLD)


def _dt(component: Component, name: str) -> Any:
    """The moment or day of a property: what the library tells of its type is any of thirty."""
    value: Any = component[name]
    return value.dt


def _said_itself(component: Component) -> Iterable[date]:
    """The times that an event says itself, whatever its rule gives: its start, and those added."""
    yield _dt(component, "DTSTART")
    for value in _each(component.get("RDATE", [])):
        for one in value.dts:
            yield one.dt[0] if isinstance(one.dt, tuple) else one.dt


def _wall(moment: date) -> datetime:
    if not isinstance(moment, datetime):
        return datetime.combine(moment, time())
    return moment.replace(tzinfo=None)


def _instant(moment: date, zone: tzinfo) -> datetime:
    """A day is its midnight, a floating time is the club's; the missing hour counts on from before it (3.3.5)."""
    if not isinstance(moment, datetime):
        moment = datetime.combine(moment, time())
    return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).astimezone(UTC)


def _is_left_out(moment: datetime, zone: tzinfo) -> bool:
    """Whether the clock never shows this wall time."""
    local = moment if moment.tzinfo else moment.replace(tzinfo=zone)
    return local.astimezone(UTC).astimezone(local.tzinfo).replace(tzinfo=None) != local.replace(tzinfo=None)


def _name_of(moment: date) -> str:
    """A start as a name: a day, a floating time, or an instant."""
    if not isinstance(moment, datetime):
        return f"{moment:%Y%m%d}"
    return f"{moment:%Y%m%dT%H%M%S}" if moment.tzinfo is None else f"{moment.astimezone(UTC):%Y%m%dT%H%M%SZ}"
