"""Clocks of requests, reminders and questions, checked against a general-purpose date library and fixed dates."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from athletes.core.asking import by_day, due_on, may_be_asked, months_later, next_reminder

ZONE = ZoneInfo("Europe/Dublin")
DAYS = st.dates(date(2000, 1, 1), date(2090, 12, 31))


# Regulation 1182/71 Art. 3(2)(c): a period in months ends on the same date of the last month, or on its last day.
@pytest.mark.parametrize(
    ("received", "due", "longer"),
    [
        (date(2026, 1, 31), date(2026, 2, 28), date(2026, 4, 30)),
        (date(2028, 1, 31), date(2028, 2, 29), date(2028, 4, 30)),
        (date(2026, 11, 30), date(2026, 12, 30), date(2027, 2, 28)),
        (date(2026, 3, 15), date(2026, 4, 15), date(2026, 6, 15)),
    ],
)
def test_due_days(received: date, due: date, longer: date) -> None:
    assert due_on(received) == due
    assert due_on(received, is_extended=True) == longer


@given(DAYS, st.integers(0, 40))
def test_months_are_those_of_a_date_library(day: date, months: int) -> None:
    assert months_later(day, months) == day + relativedelta(months=months)


def test_a_no_is_left_alone_for_six_months_whatever_changed() -> None:
    said = date(2026, 8, 31)
    for answer in ("no", "withdrawn"):
        before, after = date(2027, 2, 27), date(2027, 2, 28)
        assert not may_be_asked(answer=answer, day=said, today=before, is_out_of_date=True)
        assert may_be_asked(answer=answer, day=said, today=after)


def test_a_yes_is_asked_anew_only_when_out_of_date() -> None:
    said = date(2026, 8, 31)
    assert not may_be_asked(answer="yes", day=said, today=date(2027, 8, 1))
    assert may_be_asked(answer="yes", day=said, today=said, is_out_of_date=True)
    assert may_be_asked(answer="", day=None, today=said)


def test_two_reminders_a_week_apart_and_never_a_third() -> None:
    now = datetime(2026, 9, 1, 12, tzinfo=ZONE)
    first = next_reminder(now=now, earlier=0, last=None)
    assert first is not None
    assert (first.number, first.at) == (1, now)
    assert next_reminder(now=now + timedelta(days=6), earlier=1, last=now) is None
    second = next_reminder(now=now + timedelta(days=7), earlier=1, last=now)
    assert second is not None
    assert second.number == 2
    assert next_reminder(now=now + timedelta(days=900), earlier=2, last=now) is None


@pytest.mark.parametrize(
    ("now", "shown"),
    [
        ("2026-09-01 20:59", "2026-09-01 20:59"),
        ("2026-09-01 21:00", "2026-09-02 08:00"),
        ("2026-09-02 07:59", "2026-09-02 08:00"),
        ("2026-09-02 08:00", "2026-09-02 08:00"),
        ("2026-03-28 23:30", "2026-03-29 08:00"),  # the clocks go forward that night
        ("2026-12-31 22:00", "2027-01-01 08:00"),
    ],
)
def test_reminders_wait_for_the_day(now: str, shown: str) -> None:
    told = by_day(datetime.fromisoformat(now).replace(tzinfo=ZONE))
    assert told.strftime("%Y-%m-%d %H:%M") == shown
