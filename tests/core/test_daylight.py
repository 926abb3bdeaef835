"""Civil dawn and dusk against published almanac values, and where the sun does not cross the line."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from sessions.core.iso_week import IsoWeek, monday_of
from sessions.selectors.daylight import civil_daylight

LONDON, DELHI, TROMSO = (51.50853, -0.12574), (28.61, 77.22), (69.65, 18.96)
WITHIN = timedelta(seconds=90)


def light_on(place, day, zone="UTC"):
    week = IsoWeek(monday_of(day), ZoneInfo(zone))
    light = civil_daylight(latitude=place[0], longitude=place[1], week=week)
    return [stretch for stretch in light if stretch[0].astimezone(week.zone).date() == day]


@pytest.mark.parametrize(
    ("day", "dawn", "dusk"),
    [
        (date(2015, 12, 1), "07:04", "16:34"),
        (date(2015, 12, 12), "07:16", "16:31"),
        (date(2015, 12, 25), "07:25", "16:36"),
        (date(2019, 8, 29), "04:32", "19:30"),
    ],
)
def test_london(day, dawn, dusk):
    """Public almanac values for London (UTC), as the test suite of the library astral repeats them."""
    [(first, last)] = light_on(LONDON, day)
    for found, told in ((first, dawn), (last, dusk)):
        hour, minute = map(int, told.split(":"))
        assert abs(found - datetime(day.year, day.month, day.day, hour, minute, 30, tzinfo=UTC)) <= WITHIN


@pytest.mark.parametrize(("day", "dawn"), [(date(2015, 12, 1), (6, 30)), (date(2015, 12, 25), (6, 45))])
def test_new_delhi(day, dawn):
    """Almanac values for New Delhi, local time, from the same suite."""
    [(first, _last)] = light_on(DELHI, day, "Asia/Kolkata")
    told = datetime(day.year, day.month, day.day, *dawn, 30, tzinfo=ZoneInfo("Asia/Kolkata"))
    assert abs(first - told) <= WITHIN


def test_far_north_it_is_light_all_day_in_june():
    [(first, last)] = light_on(TROMSO, date(2026, 6, 21), "Europe/Oslo")
    assert last - first == timedelta(hours=24)


def test_far_north_noon_in_december_is_twilight_alone():
    """At the winter solstice the sun culminates at 90 - 69.65 - 23.44 = -3.1 degrees there: above -6, so there is civil
    twilight for some hours about noon."""
    [(first, last)] = light_on(TROMSO, date(2026, 12, 21), "Europe/Oslo")
    assert timedelta(hours=2) < last - first < timedelta(hours=7)


def test_nearer_the_pole_december_has_no_light():
    """At 80 degrees north the sun culminates at -13.4 degrees at the winter solstice."""
    assert light_on((80.0, 18.96), date(2026, 12, 21), "Europe/Oslo") == []
