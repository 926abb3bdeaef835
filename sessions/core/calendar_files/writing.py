"""Writes a calendar of RFC 5545: lines and their folds, a time zone, events with what changed since."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from uuid import UUID
from zoneinfo import ZoneInfo

LONGEST_LINE = 75
"""Octets of a line without its end, at most (RFC 5545, 3.1)."""

MADE_BY = "-//Teamtrack//Calendar//EN"
FRESH_FOR = "PT1H"
"""How often a calendar program is asked to look again (RFC 7986, 5.7)."""

_ESCAPED = str.maketrans(
    {"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n", "\x7f": None}
    | {chr(code): None for code in range(32) if chr(code) != "\n"}
)
_HOUR = timedelta(hours=1)
ROUND_CHANGE = timedelta(hours=3)
"""How long after a change of the clock instants are written in UTC (tried with four readers)."""


@dataclass(frozen=True, slots=True)
class Event:
    """One event; instants are aware. `changed_at`: when what stands here was last changed; `sequence` rises with it."""

    uid: UUID
    sequence: int
    changed_at: datetime
    starts_at: datetime
    ends_at: datetime
    summary: str
    place: str = ""
    is_cancelled: bool = False


def calendar_text(*, name: str, zone: ZoneInfo, events: Sequence[Event]) -> str:
    """A whole calendar, its times on the wall clock of `zone`, lines ended by CRLF (RFC 5545, 3.4 and 3.6)."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{MADE_BY}", "CALSCALE:GREGORIAN"]
    title = escaped(name)
    lines += [f"NAME:{title}", f"X-WR-CALNAME:{title}"]
    lines += [f"REFRESH-INTERVAL;VALUE=DURATION:{FRESH_FOR}", f"X-PUBLISHED-TTL:{FRESH_FOR}"]
    changes: Sequence[datetime] = ()
    if events:
        first = min(event.starts_at for event in events).year
        last = max(event.ends_at for event in events).year
        lines += time_zone_lines(zone, first, last)
        changes = clock_changes(zone, date(first - 1, 12, 31), date(last + 1, 1, 2))
    text = "".join(folded(line) for line in lines)
    return text + "".join([event_text(event, zone, changes) for event in events]) + "END:VCALENDAR\r\n"


def event_text(event: Event, zone: ZoneInfo, changes: Sequence[datetime] = ()) -> str:
    """One event with its folds; DTSTAMP is when it was last changed, as of a calendar without a method (3.8.7.2).

    `changes` are the instants at which the zone's clock changes, round the event.
    """
    changed = utc_text(event.changed_at)
    starts, ends = instant_texts(event, zone, changes)
    place = _text_line("LOCATION", event.place) if event.place else ""
    return (
        f"BEGIN:VEVENT\r\nUID:{event.uid}\r\nDTSTAMP:{changed}\r\nLAST-MODIFIED:{changed}\r\n"
        f"SEQUENCE:{event.sequence}\r\nDTSTART{starts}\r\nDTEND{ends}\r\n"
        f"STATUS:{'CANCELLED' if event.is_cancelled else 'CONFIRMED'}\r\n"
        f"{_text_line('SUMMARY', event.summary)}{place}END:VEVENT\r\n"
    )


@lru_cache(maxsize=1024)
def _text_line(name: str, text: str) -> str:
    """A property with its value, folded; a season says few different ones."""
    return folded(f"{name}:{escaped(text)}")


def folded(line: str) -> str:
    """The line with its end; a long one goes on after CRLF and a space, at most 75 octets each, no character cut."""
    if line.isascii() and len(line) <= LONGEST_LINE:
        return line + "\r\n"
    return "\r\n ".join(_pieces(line)) + "\r\n"


def _pieces(line: str) -> Iterator[str]:
    begins, octets, room = 0, 0, LONGEST_LINE
    for place, character in enumerate(line):
        size = len(character.encode())
        if octets + size > room:
            yield line[begins:place]
            begins, octets, room = place, 0, LONGEST_LINE - 1
        octets += size
    yield line[begins:]


def escaped(text: str) -> str:
    """Text as a value (RFC 5545, 3.3.11); characters that no line may hold are left out."""
    return text.translate(_ESCAPED)


@lru_cache(maxsize=1024)
def utc_text(moment: datetime) -> str:
    """An instant in UTC: 20270309T180000Z."""
    return moment.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")


def instant_texts(event: Event, zone: ZoneInfo, changes: Sequence[datetime]) -> tuple[str, str]:
    """Parameters and value of start and end on the zone's wall clock; both in UTC where the clock changes in between or
    not long before. A wall time alone means the first of two alike (RFC 5545, 3.3.5), and readers of files disagree in
    the hours round a change."""
    starts, ends = event.starts_at, event.ends_at
    if zone.key == "UTC" or any(starts - ROUND_CHANGE < change <= ends for change in changes):
        return f":{utc_text(starts)}", f":{utc_text(ends)}"
    texts = (f";TZID={zone.key}:{moment.astimezone(zone):%Y%m%dT%H%M%S}" for moment in (starts, ends))
    return next(texts), next(texts)


@lru_cache(maxsize=64)
def time_zone_lines(zone: ZoneInfo, first_year: int, last_year: int) -> tuple[str, ...]:
    """The zone's clock in these years: what holds when they begin, then every change with its day (RFC 5545, 3.6.5)."""
    if zone.key == "UTC":
        return ()
    begins = datetime(first_year, 1, 1, tzinfo=UTC)
    lines = ["BEGIN:VTIMEZONE", f"TZID:{zone.key}", *_observance(zone, begins, begins - _HOUR)]
    for moment in clock_changes(zone, date(first_year, 1, 1), date(last_year + 1, 1, 1)):
        lines += _observance(zone, moment, moment - timedelta(seconds=1))
    return (*lines, "END:VTIMEZONE")


def _observance(zone: ZoneInfo, moment: datetime, before: datetime) -> Iterable[str]:
    """What the clock shows from `moment` on; it begins at the wall time that the clock would have shown without it."""
    now, old = moment.astimezone(zone), before.astimezone(zone)
    old_offset = old.utcoffset() or timedelta()
    ahead = (now.utcoffset() or timedelta()) - old_offset
    what = "DAYLIGHT" if ahead > timedelta() or (not ahead and (now.dst() or ahead) > timedelta()) else "STANDARD"
    begins = (moment + old_offset).replace(tzinfo=None)
    return (
        f"BEGIN:{what}",
        f"DTSTART:{begins:%Y%m%dT%H%M%S}",
        f"TZOFFSETFROM:{_offset(old_offset)}",
        f"TZOFFSETTO:{_offset(now.utcoffset() or timedelta())}",
        f"TZNAME:{escaped(now.tzname() or zone.key)}",
        f"END:{what}",
    )


def _offset(offset: timedelta) -> str:
    minutes, seconds = divmod(abs(int(offset.total_seconds())), 60)
    sign = "-" if offset < timedelta() else "+"
    return f"{sign}{minutes // 60:02d}{minutes % 60:02d}" + (f"{seconds:02d}" if seconds else "")


@lru_cache(maxsize=64)
def clock_changes(zone: ZoneInfo, first: date, last: date) -> tuple[datetime, ...]:
    """The instants, in UTC, at which the zone's clock is put forward or back from `first` up to before `last`."""
    found = []
    begins, ends = (datetime(day.year, day.month, day.day, tzinfo=UTC) for day in (first, last))
    while begins < ends:
        after = begins + timedelta(days=1)
        if _offset_at(zone, begins) != _offset_at(zone, after):
            found.append(_first_with(zone, begins, after))
        begins = after
    return tuple(found)


def _first_with(zone: ZoneInfo, before: datetime, after: datetime) -> datetime:
    """The first second with the offset of `after`."""
    wanted = _offset_at(zone, after)
    while after - before > timedelta(seconds=1):
        middle = before + (after - before) // 2
        middle = middle.replace(microsecond=0)
        before, after = (before, middle) if _offset_at(zone, middle) == wanted else (middle, after)
    return after


def _offset_at(zone: ZoneInfo, moment: datetime) -> timedelta | None:
    return moment.astimezone(zone).utcoffset()
