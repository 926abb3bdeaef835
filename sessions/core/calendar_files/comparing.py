"""What a calendar file would change: its occurrences against those that earlier files brought."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from sessions.core.calendar_files.reading import Occurrence

MEET_FROM, MEET_UNTIL = time(9), time(18)
"""When a meet is taken to be whose file says only the day, until its timetable is known (common practice)."""

WITHOUT_END = timedelta(hours=1)
"""How long something lasts whose file says no end (common practice, no source)."""

LONGEST_REASON = 80
Name = tuple[str, str]


class What(StrEnum):
    """What happens to one row."""

    ADD = "add"
    CHANGE = "change"
    CANCEL = "cancel"


@dataclass(frozen=True, slots=True)
class Entry:
    """What stands in the calendar: when, what it is called, where."""

    starts_at: datetime
    ends_at: datetime
    title: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """What the file says of one name (the event's id and the occurrence): an entry, or that it is off."""

    sequence: int
    entry: Entry
    is_cancelled: bool = False


@dataclass(frozen=True, slots=True)
class Known:
    """What an earlier file brought of a name; no entry where it was called off since."""

    sequence: int
    entry: Entry | None


@dataclass(frozen=True, slots=True)
class FileChange:
    """One change that the file asks for; `before` where something stands there."""

    what: What
    name: Name
    sequence: int
    before: Entry | None
    after: Entry | None


def meets_said(occurrences: Iterable[Occurrence], zone: ZoneInfo) -> Iterator[tuple[Name, Said]]:
    """A meet of whole days is one a day, in the hours of a meet: the planner counts rest between days."""
    for one in occurrences:
        if not one.is_all_day:
            yield (_uid(one), one.instance), _said(one)
            continue
        day, last = one.starts_at.astimezone(zone).date(), one.ends_at.astimezone(zone).date()
        number = 0
        while day < last or number == 0:
            starts_at, ends_at = (datetime.combine(day, wall, zone) for wall in (MEET_FROM, MEET_UNTIL))
            name = (_uid(one), f"{one.instance}/{number + 1}" if number else one.instance)
            yield name, Said(one.sequence, Entry(starts_at, ends_at, one.title, one.place), one.is_cancelled)
            day, number = day + timedelta(days=1), number + 1


def hours_said(occurrences: Iterable[Occurrence]) -> Iterator[tuple[Name, Said]]:
    """Hours that are taken: a whole day is all of it; where it is does not matter."""
    for one in occurrences:
        said = _said(one)
        entry = replace(said.entry, title=said.entry.title[:LONGEST_REASON], place="")
        yield (_uid(one), one.instance), replace(said, entry=entry)


def _uid(one: Occurrence) -> str:
    """What names an event; one without an id by what it is called and when it begins."""
    return one.uid or f"{one.title} {one.starts_at:%Y%m%dT%H%M}"


def _said(one: Occurrence) -> Said:
    ends_at = one.ends_at if one.ends_at > one.starts_at else one.starts_at + WITHOUT_END
    return Said(one.sequence, Entry(one.starts_at, ends_at, one.title, one.place), one.is_cancelled)


def file_changes(said: Iterable[tuple[Name, Said]], known: Mapping[Name, Known]) -> list[FileChange]:
    """The changes, in the order said: what is new, what is not as it stands, what is off.

    What an older version of the file says (a lower SEQUENCE, RFC 5545, 3.8.7.4) changes nothing; what the file does not
    name stays, for a file may hold a part.
    """
    return [change for name, one in dict(said).items() if (change := _change(name, one, known.get(name)))]


def _change(name: Name, said: Said, known: Known | None) -> FileChange | None:
    if known is None:
        return None if said.is_cancelled else FileChange(What.ADD, name, said.sequence, None, said.entry)
    if said.sequence < known.sequence:
        return None
    if said.is_cancelled:
        return FileChange(What.CANCEL, name, said.sequence, known.entry, None) if known.entry else None
    if said.entry == known.entry:
        return None
    return FileChange(What.CHANGE, name, said.sequence, known.entry, said.entry)
