"""What is written is RFC 5545: lines, folds, zones; four independent readers read it alike, over both clock changes."""

import random
from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
import recurring_ical_events
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from sessions.core.calendar_files.writing import Event, calendar_text, clock_changes, escaped, folded
from tests.core.calendar_files.readers import read_by_all, utc
from tests.sizes import examples

ZONES = ("Europe/Dublin", "Europe/Berlin", "America/New_York", "Australia/Sydney", "UTC", "Asia/Kolkata")
MADE = datetime(2026, 9, 1, 12, tzinfo=UTC)


def season(seed: int) -> tuple[ZoneInfo, list[Event]]:
    """A year from September on: three evenings a week at their wall time, and something in the nights of the clock."""
    rng = random.Random(seed)
    zone = ZoneInfo(ZONES[seed % len(ZONES)])
    events = []
    for number in range(52):
        for weekday in rng.sample(range(7), 3):
            day = date(2026, 9, 7) + timedelta(weeks=number, days=weekday)
            start = datetime.combine(day, time(rng.randrange(6, 21), rng.choice((0, 15, 30, 45))), zone)
            events.append(event(rng, start, minutes=rng.choice((45, 60, 90, 480))))
    for change in clock_changes(zone, date(2026, 9, 7), date(2027, 9, 5)):
        for minutes in (-90, -30, 30, 90):  # camps over night: wall times that come twice, or are left out
            events.append(event(rng, change + timedelta(minutes=minutes), minutes=120))
    return zone, events


def event(rng: random.Random, start: datetime, *, minutes: int) -> Event:
    words = rng.choice(("technique", "Ivo: technique, then moderate", "Łukasz; Åsa, \\ 跑步 " * 5))
    uid = UUID(int=rng.getrandbits(128), version=5)
    starts_at = start.astimezone(UTC)
    place = rng.choice(("", "Straight A", "Wiese am Bach, hinter dem Zaun " * 3))
    return Event(
        uid, rng.randrange(9), MADE, starts_at, starts_at + timedelta(minutes=minutes), words, place, rng.random() < 0.1
    )


@pytest.mark.parametrize("seed", range(examples(60)))
def test_four_readers_read_a_season_alike(seed: int) -> None:
    zone, events = season(seed)
    text = calendar_text(name="Training", zone=zone, events=events)
    written = {(str(one.uid), one.starts_at, one.ends_at) for one in events}
    for read in read_by_all(text):
        assert read == written


@pytest.mark.parametrize("seed", range(4))
def test_occurrences_are_the_events(seed: int) -> None:
    zone, events = season(seed)
    text = calendar_text(name="Training", zone=zone, events=events)
    found = recurring_ical_events.of(Calendar.from_ical(text)).between(datetime(2026, 8, 1), datetime(2027, 12, 1))
    assert sorted((str(one["UID"]), utc(one["DTSTART"].dt), utc(one["DTEND"].dt)) for one in found) == sorted(
        (str(one.uid), one.starts_at, one.ends_at) for one in events
    )


@pytest.mark.parametrize(
    ("zone", "year", "changes"),
    [
        ("Europe/London", 2026, ["2026-03-29T01:00", "2026-10-25T01:00"]),  # reference: wall time kept, both weekends
        ("America/New_York", 2026, ["2026-03-08T07:00", "2026-11-01T06:00"]),
        ("Australia/Sydney", 2027, ["2027-04-03T16:00", "2027-10-02T16:00"]),
        ("Asia/Kolkata", 2027, []),
    ],
)
def test_clocks_change_when_the_zone_says(zone: str, year: int, changes: list[str]) -> None:
    """Days of the changes: last Sundays of March and October in Europe, second of March and first of November in the
    United States, first of April and October in New South Wales (the time zone database)."""
    found = clock_changes(ZoneInfo(zone), date(year, 1, 1), date(year + 1, 1, 1))
    assert [f"{one:%Y-%m-%dT%H:%M}" for one in found] == changes


def test_wall_time_is_written_and_utc_round_a_change() -> None:
    zone = ZoneInfo("Europe/Dublin")
    starts = [datetime(2026, 10, 25, hour, tzinfo=UTC) for hour in (0, 1, 2, 18)]
    events = [
        Event(UUID(int=n, version=5), 0, MADE, one, one + timedelta(minutes=15), "x") for n, one in enumerate(starts)
    ]
    text = calendar_text(name="Training", zone=zone, events=events)
    told = [
        line.removeprefix("DTSTART") for line in text[text.index("BEGIN:VEVENT") :].split("\r\n") if "DTSTART" in line
    ]
    assert told == [
        ";TZID=Europe/Dublin:20261025T010000",
        ":20261025T010000Z",
        ":20261025T020000Z",
        ";TZID=Europe/Dublin:20261025T180000",
    ]


@given(st.text(max_size=400))
def test_a_fold_is_short_cuts_no_character_and_unfolds_to_the_line(text: str) -> None:
    line = "SUMMARY:" + escaped(text)
    written = folded(line).encode()
    assert written.endswith(b"\r\n")
    pieces = written[:-2].split(b"\r\n")
    assert max(map(len, pieces)) <= 75
    assert all(piece.decode() and (n == 0) == (not piece.startswith(b" ")) for n, piece in enumerate(pieces))
    assert b"".join([pieces[0], *(piece[1:] for piece in pieces[1:])]).decode() == line


def test_every_line_ends_with_crlf_and_the_calendar_asks_for_an_hour() -> None:
    text = calendar_text(name="Training", zone=ZoneInfo("Europe/Dublin"), events=season(0)[1])
    assert "\n" not in text.replace("\r\n", "")
    assert "\r\nREFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n" in text
    assert "\r\nX-PUBLISHED-TTL:PT1H\r\n" in text
    assert text.count("BEGIN:VTIMEZONE") == 1
    assert "TZID" not in calendar_text(name="Training", zone=ZoneInfo("UTC"), events=season(4)[1])
