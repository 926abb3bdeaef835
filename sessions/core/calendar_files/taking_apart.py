"""Takes a calendar file apart into its events, one by one, before any is read."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from zoneinfo import available_timezones

_OF_ALL = (b"METHOD", b"X-WR-TIMEZONE", b"CALSCALE")
"""What a calendar says for all of its events."""


@dataclass
class EventLines:
    """One event of the file: its number, counted from one, and its unfolded lines."""

    number: int
    lines: list[bytes]

    @property
    def title(self) -> str:
        """What it is called, read plainly, also where nothing else of it can be read."""
        for line in self.lines:
            name, _, value = line.partition(b":")
            if name.upper().split(b";")[0] == b"SUMMARY":
                return value.decode("utf-8", "replace").replace("\\,", ",").replace("\\;", ";").strip()
        return ""


@dataclass
class FileLines:
    """A calendar taken apart: what stands above all events, the zones, the events, and those that nothing closes."""

    head: list[bytes] = field(default_factory=list)
    zones: list[list[bytes]] = field(default_factory=list)
    events: list[EventLines] = field(default_factory=list)
    unclosed: list[EventLines] = field(default_factory=list)
    is_calendar: bool = False

    @property
    def is_cancelling(self) -> bool:
        """Whether the whole file calls its events off (RFC 5546, 3.2.5)."""
        return any(line.strip().upper() == b"METHOD:CANCEL" for line in self.head)

    def with_events(self, events: Iterable[EventLines]) -> str:
        """These events as a calendar of their own, with the zones that they name and the file itself describes."""
        body = [line for event in events for line in event.lines]
        named = {found[1] for line in body for found in _ZONE_NAMED.finditer(line)}
        zones = [line for zone in self.zones if _name_of(zone) in named for line in zone]
        lines = [b"BEGIN:VCALENDAR", b"VERSION:2.0", *self.head, *zones, *body, b"END:VCALENDAR", b""]
        return b"\r\n".join(lines).decode("utf-8", "replace")

    def name_zones_apart(self) -> None:
        """A zone that the file itself describes is named by what it says, so that no other file's zone of that name is
        ever taken for it; for those of the time zone database, that is followed."""
        own = [zone for zone in self.zones if _name_of(zone).decode("utf-8", "replace").strip("/") not in _known()]
        names = {_name_of(zone): _name_of(zone) + b"-" + _short_hash(zone) for zone in own}
        for zone in own:
            zone[:] = [line if not _is_name(line) else b"TZID:" + names[_name_of(zone)] for line in zone]
        for event in self.events:
            event.lines[:] = [_ZONE_NAMED.sub(lambda found: _renamed(found, names), line) for line in event.lines]
        self.zones = own


_ZONE_NAMED = re.compile(rb'(?<=;TZID=)"?([^":;]+)"?', re.IGNORECASE)


def _renamed(found: re.Match[bytes], names: dict[bytes, bytes]) -> bytes:
    return names.get(found[1], found[1])


def _is_name(line: bytes) -> bool:
    return line.upper().startswith((b"TZID:", b"TZID;"))


def _name_of(zone: Iterable[bytes]) -> bytes:
    return next((line.partition(b":")[2].strip() for line in zone if _is_name(line)), b"")


def _short_hash(zone: Iterable[bytes]) -> bytes:
    return hashlib.sha256(b"\n".join(zone)).hexdigest()[:12].encode()


@lru_cache(maxsize=1)
def _known() -> frozenset[str]:
    return frozenset(available_timezones())


def taken_apart(data: bytes) -> FileLines:
    """Unfold the lines, as octets since a fold may cut a character, and sort them to what they belong to."""
    found = _Sorting()
    unfolded = re.sub(rb"(?:\r\n|\n|\r)[ \t]", b"", data.removeprefix(b"\xef\xbb\xbf"))
    for line in re.split(rb"\r\n|\n|\r", unfolded):
        if line.strip():
            found.sort(line)
    if found.event is not None:
        found.file.unclosed.append(found.event)
    found.file.name_zones_apart()
    return found.file


class _Sorting:
    """Goes through the lines and knows what is open."""

    def __init__(self) -> None:
        self.file = FileLines()
        self.opened: list[bytes] = []
        self.event: EventLines | None = None
        self.count = 0

    def sort(self, line: bytes) -> None:
        what, _, name = line.strip().upper().partition(b":")
        if what == b"BEGIN":
            self._begin(name)
        if self.event is not None:
            self.event.lines.append(line)
        elif b"VTIMEZONE" in self.opened:
            self.file.zones[-1].append(line)
        elif self.opened == [b"VCALENDAR"] and what.split(b";")[0] in _OF_ALL:
            self.file.head.append(line)
        if what == b"END" and self.opened:
            self._end(name)

    def _begin(self, name: bytes) -> None:
        self.opened.append(name)
        self.file.is_calendar = self.file.is_calendar or name == b"VCALENDAR"
        if name == b"VTIMEZONE":
            self.file.zones.append([])
        if name == b"VEVENT":
            if self.event is not None:  # nothing closed the one before
                self.file.unclosed.append(self.event)
            self.count += 1
            self.event = EventLines(self.count, [])

    def _end(self, name: bytes) -> None:
        while self.opened and self.opened.pop() != name:
            pass
        if name == b"VEVENT" and self.event is not None:
            self.file.events.append(self.event)
            self.event = None
