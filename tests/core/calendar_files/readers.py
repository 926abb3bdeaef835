"""Four independent readers of calendar files, which the product's writer does not know: each gives id, start, end."""

import warnings
from collections.abc import Callable
from datetime import UTC, datetime

import ics
import vobject
from ical.calendar_stream import IcsCalendarStream
from icalendar import Calendar

Read = set[tuple[str, datetime, datetime]]


def by_icalendar(text: str) -> Read:
    events = Calendar.from_ical(text).walk("VEVENT")
    return {(str(one["UID"]), utc(one["DTSTART"].dt), utc(one["DTEND"].dt)) for one in events}


def by_ics(text: str) -> Read:
    return {(one.uid, utc(one.begin.datetime), utc(one.end.datetime)) for one in ics.Calendar(text).events}


def by_vobject(text: str) -> Read:
    events = vobject.readOne(text).contents.get("vevent", [])
    return {(one.uid.value, utc(one.dtstart.value), utc(one.dtend.value)) for one in events}


def by_ical(text: str) -> Read:
    events = IcsCalendarStream.calendar_from_ics(text).events
    return {(one.uid, utc(one.dtstart), utc(one.dtend)) for one in events}


READERS: tuple[Callable[[str], Read], ...] = (by_icalendar, by_ics, by_vobject, by_ical)


def utc(moment: datetime) -> datetime:
    assert moment.tzinfo is not None, "a wall time without its zone"
    return moment.astimezone(UTC)


def read_by_all(text: str) -> list[Read]:
    """What each of the four says; their own warnings are not ours."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return [reader(text) for reader in READERS]
