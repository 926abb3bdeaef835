"""Marks: reading, official rounding, conversion of hand times, wind, bests by season."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.core.marks import (
    Event,
    Mark,
    TimeFault,
    bests,
    compared_ms,
    counts,
    official_ms,
    read_time,
    read_wind,
    written,
)
from athletes.core.marks_file import BadRow, FileFault, MarkRow, RowFault, read_event, read_marks
from athletes.core.roster_file.dates import Order
from athletes.core.roster_file.text_table import decode

TODAY = date(2026, 11, 29)

# Hand times go up to the next tenth unless exact: World Athletics Technical Rule 19, formerly IAAF Rule 165 (wording
# from memory; 12.32 to 12.4 as a masters ranking guide has it); values computed with decimal numbers, rounded up.
ROUNDED_BY_HAND = [
    ("10.10", "10.1"), ("10.11", "10.2"), ("10.19", "10.2"), ("12.32", "12.4"), ("9.91", "10.0"), ("59.91", "1:00.0"),
    ("8.20", "8.2"),
]  # fmt: skip


@pytest.mark.parametrize(("read", "entered"), ROUNDED_BY_HAND)
def test_a_hand_time_goes_up_to_the_next_tenth(read, entered):
    assert written(read_time(read), is_hand=True) == entered


# +0.24 s up to 200 m, +0.14 s for 400 m, none above: a masters ranking guide and the trade press.
@pytest.mark.parametrize(
    ("event", "by_hand", "electronic"),
    [("100", "12.4", "12.64"), ("200", "23.9", "24.14"), ("400", "52.0", "52.14"), ("800", "2:05.0", "2:05.00")],
)
def test_a_hand_time_is_compared_with_what_it_lacks(event, by_hand, electronic):
    ms = compared_ms(Event(event), read_time(by_hand), is_hand=True)
    assert written(ms, is_hand=False) == electronic
    assert ms == compared_ms(Event(event), read_time(electronic), is_hand=False)


@given(st.integers(3000, 10_000_000))
def test_rounding_goes_up_by_less_than_a_step_and_once(ms):
    for is_hand, step in ((True, 100), (False, 10)):
        entered = official_ms(ms, is_hand=is_hand)
        assert entered % step == 0 and 0 <= entered - ms < step
        assert official_ms(entered, is_hand=is_hand) == entered
        assert read_time(written(ms, is_hand=is_hand)) == entered


@pytest.mark.parametrize(
    "text", ["", "fast", "2:61.0", "1:2:3:4", "12.3456", "1.2", "5:00:00", "12.3.4", "-12.3", "١٢"]
)
def test_what_is_no_time_is_refused(text):
    with pytest.raises(TimeFault):
        read_time(text)


@pytest.mark.parametrize(
    ("text", "tenths"), [("+1.3", 13), ("-0,4", -4), ("2", 20), ("", None), ("0.0", 0), ("\u22121.0", -10)]
)
def test_wind_as_it_is_written(text, tenths):
    assert read_wind(text) == tenths


def test_wind_counts_on_the_straight_and_up_to_200_m():
    """2.0 m/s is the limit (World Athletics rules; value from memory)."""
    assert counts(Event.M100, 20) and not counts(Event.M100, 21)
    assert not counts(Event.M200, 30) and not counts(Event.H110, 21)
    assert counts(Event.M400, 50) and counts(Event.M100, None) and counts(Event.M100, -40)


def a_mark(time, day, *, event="100", hand=False, wind=None):
    return Mark(Event(event), read_time(time), hand, wind, date.fromisoformat(day))


def test_bests_by_season_leave_out_too_much_wind():
    windy = a_mark("12.00", "2026-06-01", wind=25)
    by_hand, electronic = a_mark("12.3", "2026-05-01", hand=True), a_mark("12.50", "2026-05-08", wind=10)
    older = a_mark("12.60", "2025-07-01")
    [found] = bests([older, windy, by_hand, electronic])
    assert found.best == electronic  # 12.3 by hand is compared as 12.54
    assert found.seasons == ((2026, electronic), (2025, older))


def test_of_equal_times_the_earlier_stands_and_windy_ones_alone_make_no_best():
    first, again = a_mark("12.50", "2026-05-01"), a_mark("12.50", "2026-06-01")
    windy = a_mark("26.00", "2026-06-01", event="200", wind=21)
    one, other = bests([again, first, windy])
    assert (one.best, other.best, other.seasons) == (first, None, ())


HEADED = "Surname;First name;Date;Event;Time;Timing;Wind\r\n"


def test_a_file_in_any_order_of_columns():
    text = HEADED + "Tester;Noela;2026-05-08;100 m;12,64;;+1,3\r\nTester;Ivo;2026-05-08;1500m;5:02.3;hand;\r\n"
    assert read_marks(text, today=TODAY).rows == (
        MarkRow(2, "Noela Tester", Event.M100, 12640, False, 13, date(2026, 5, 8)),
        MarkRow(3, "Ivo Tester", Event.M1500, 302300, True, None, date(2026, 5, 8)),
    )


@pytest.mark.parametrize(
    ("row", "column", "fault"),
    [
        (";;2026-05-08;100;12.6;;", "name", RowFault.NO_NAME),
        ("Tester;Noela;31/02/2026;100;12.6;;", "day", RowFault.DAY),
        ("Tester;Noela;2027-05-08;100;12.6;;", "day", RowFault.DAY_TO_COME),
        ("Tester;Noela;2026-05-08;javelin;12.6;;", "event", RowFault.EVENT),
        ("Tester;Noela;2026-05-08;100;quick;;", "time", RowFault.TIME),
        ("Tester;Noela;2026-05-08;100;12.6;perhaps;", "timing", RowFault.TIMING),
        ("Tester;Noela;2026-05-08;100;12.6;;gusty", "wind", RowFault.WIND),
        ("Tester;Noela", "event", RowFault.EVENT),
    ],
)
def test_a_row_that_cannot_be_read_names_its_column(row, column, fault):
    [bad] = read_marks(HEADED + row, today=TODAY).bad
    assert isinstance(bad, BadRow)
    assert (bad.number, bad.column, bad.fault) == (2, column, fault)
    assert bad.place == {"name": "B2", "day": "C2", "event": "D2", "time": "E2", "timing": "F2", "wind": "G2"}[column]


def test_a_date_that_could_be_two_is_asked_about_and_then_read_as_was_said():
    text = (
        HEADED
        + "Tester;Noela;08/05/2026;100;12.6;;\r\nTester;Ivo;3 May 2026;100;12.9;;\r\nTester;Ivo;14/5/26;100;12.8;;"
    )
    asked = read_marks(text, today=TODAY)
    assert [(one.place, one.cell) for one in asked.two_ways] == [("C2", "08/05/2026")]
    assert [row.day for row in asked.rows] == [date(2026, 5, 3), date(2026, 5, 14)]
    day_first = read_marks(text, today=TODAY, order=Order.DAY_FIRST)
    assert [row.day for row in day_first.rows] == [date(2026, 5, 8), date(2026, 5, 3), date(2026, 5, 14)]
    month_first = read_marks(text, today=TODAY, order=Order.MONTH_FIRST)
    assert [row.day for row in month_first.rows] == [date(2026, 8, 5), date(2026, 5, 3)]
    assert [(bad.place, bad.fault) for bad in month_first.bad] == [("C4", RowFault.DAY)]


@pytest.mark.parametrize(
    ("text", "fault"),
    [("", FileFault.EMPTY), ("Event,Time,Date\n", FileFault.NO_NAME), ("Name,Time\nA,1", FileFault.NO_COLUMN),
     ("Name,Event,Time,Date\n", FileFault.EMPTY)],
)  # fmt: skip
def test_a_file_without_what_is_needed_says_why(text, fault):
    assert read_marks(text, today=TODAY).fault == fault


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings(encoding):
    assert decode("Zoë".encode(encoding)) == "Zoë"


@pytest.mark.parametrize(
    ("text", "event"),
    [("100 m", Event.M100), ("110 m hurdles", Event.H110), ("3000 steeplechase", Event.SC3000), ("mile", Event.MILE)],
)
def test_events_as_they_are_written(text, event):
    assert read_event(text) is event
