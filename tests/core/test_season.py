"""Which demands a week has: phase, pattern, modifiers, usual slots; weeks and stretches beneath them."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.iso_week import IsoWeek, monday_of, monday_of_label
from sessions.core.recovery import Dated, gap_h, last_strenuous_before, neighbours, next_strenuous_after
from sessions.core.season import (
    Modifier,
    Pattern,
    PhaseWeeks,
    demands_of_week,
    minutes_of_sessions,
    phase_of_week,
    squad_limits,
    usual_starts,
    week_of_season,
)
from sessions.core.stretches import merged, within, without
from tests.sizes import examples

DUBLIN = ZoneInfo("Europe/Dublin")
GROUP, OTHER, SQUAD = UUID(int=1), UUID(int=2), UUID(int=3)


def week(monday: date = date(2027, 3, 1)) -> IsoWeek:
    return IsoWeek(monday, DUBLIN)


def pattern(number: int, *, group: UUID = GROUP, priority: int = 2, order: int | None = None) -> Pattern:
    return Pattern(UUID(int=100 + number), group, priority, number if order is None else order)


# Weeks, against the calendar of the standard library


@given(st.dates(date(2000, 1, 3), date(2990, 1, 1)))
@settings(max_examples=examples(500))
def test_labels_are_the_standard_librarys_iso_weeks(day):
    monday = monday_of(day)
    year, number, weekday = day.isocalendar()
    assert IsoWeek(monday, DUBLIN).label == f"{year}-W{number:02d}"
    assert monday_of_label(f"{year}-W{number:02d}") == monday == day - timedelta(days=weekday - 1)


@pytest.mark.parametrize("label", ["2027-W54", "2027-W00", "2025-W53", "2027W10", "1999-W01", "9999-W52", ""])
def test_what_is_no_week_is_refused(label):
    with pytest.raises(ValueError):
        monday_of_label(label)


def test_a_week_of_a_clock_change_is_an_hour_shorter_in_real_time():
    spring = week(date(2027, 3, 22))
    assert spring.ends_at - spring.starts_at == timedelta(days=7, hours=-1)


# Season and phase


def test_weeks_are_counted_from_one_and_end_with_the_season():
    first = date(2027, 1, 4)
    numbers = [
        week_of_season(first_monday=first, weeks=3, monday=first + timedelta(days=7 * shift)) for shift in range(-1, 4)
    ]
    assert numbers == [None, 1, 2, 3, None]


def test_the_phase_holds_its_last_week_and_a_gap_has_none():
    phases = [PhaseWeeks(UUID(int=1), 1, 3), PhaseWeeks(UUID(int=2), 5, 6)]
    assert [phase.id.int if (phase := phase_of_week(phases, number)) else 0 for number in range(1, 8)] == [
        1, 1, 1, 0, 2, 2, 0,
    ]  # fmt: skip


# Demands


def test_without_modifiers_each_pattern_is_a_demand():
    patterns = [pattern(1), pattern(2, group=OTHER), pattern(3)]
    assert demands_of_week(patterns, [], {}) == patterns


def test_a_short_week_keeps_what_matters_most_in_the_patterns_order():
    patterns = [pattern(1, priority=1), pattern(2, priority=3), pattern(3, priority=2), pattern(4, priority=2)]
    kept = demands_of_week(patterns, [Modifier(None, 2)], {})
    assert kept == [patterns[1], patterns[2]]


def test_a_squads_exams_shorten_only_groups_of_which_it_is_more_than_a_third():
    patterns = [pattern(1), pattern(2), pattern(3, group=OTHER), pattern(4, group=OTHER)]
    shares = {GROUP: {SQUAD: 0.5}, OTHER: {SQUAD: 1 / 3}}
    assert demands_of_week(patterns, [Modifier(SQUAD, 1)], shares) == [patterns[0], patterns[2], patterns[3]]


@given(
    st.lists(st.tuples(st.integers(1, 2), st.integers(1, 3), st.integers(0, 4)), max_size=8),
    st.lists(st.one_of(st.none(), st.integers(0, 4)), max_size=3),
)
@settings(max_examples=examples(300))
def test_a_limited_group_has_as_many_demands_as_the_limit_and_drops_the_least(rows, limits):
    patterns = [
        pattern(number, group=UUID(int=group), priority=priority, order=order)
        for number, (group, priority, order) in enumerate(rows)
    ]
    kept = demands_of_week(patterns, [Modifier(None, most) for most in limits], {})
    assert kept == [one for one in patterns if one in kept]
    least = min((most for most in limits if most is not None), default=len(rows))
    for group in (UUID(int=1), UUID(int=2)):
        own = [one for one in patterns if one.group == group]
        mine = [one for one in kept if one.group == group]
        assert len(mine) == min(least, len(own))
        for dropped in (one for one in own if one not in mine):
            assert all(dropped.priority <= one.priority for one in mine)


def test_a_squad_has_the_strictest_of_its_limits():
    modifiers = [Modifier(SQUAD, 2), Modifier(SQUAD, 1), Modifier(None, 0), Modifier(OTHER, None)]
    assert squad_limits(modifiers) == {SQUAD: 1}


def test_a_limit_in_minutes_is_that_of_the_longest_sessions():
    assert minutes_of_sessions([60, 90, 45], 2) == 150
    assert minutes_of_sessions([60], 0) == 0


# Usual slots


@pytest.mark.parametrize(
    ("until", "minutes", "last"),
    [(time(19, 30), 60, (18, 30)), (time(19), 60, (18, 0)), (time(18, 30), 60, (18, 0)), (None, 60, (18, 0))],
)
def test_a_usual_start_lets_the_session_end_within_its_slot(until, minutes, last):
    first, beyond = usual_starts(week(), weekday=2, slot=(time(18), until), duration_min=minutes)
    assert first == datetime(2027, 3, 2, 18, tzinfo=DUBLIN)
    assert beyond - timedelta(minutes=1) == datetime(2027, 3, 2, *last, tzinfo=DUBLIN)


# Stretches, against sets of minutes


def stretches() -> st.SearchStrategy:
    moment = st.integers(0, 60)
    return st.lists(st.tuples(moment, moment), max_size=6)


def as_stretches(pairs):
    base = datetime(2027, 3, 1, tzinfo=UTC)
    return [(base + timedelta(minutes=a), base + timedelta(minutes=b)) for a, b in pairs]


def minutes(found):
    base = datetime(2027, 3, 1, tzinfo=UTC)
    spans = [((start - base) // timedelta(minutes=1), (end - base) // timedelta(minutes=1)) for start, end in found]
    return {minute for start, end in spans for minute in range(start, end)}


@given(stretches(), stretches(), st.tuples(st.integers(0, 60), st.integers(0, 60)))
@settings(max_examples=examples(500))
def test_stretches_are_sets_of_minutes(ones, others, bounds):
    left, right = as_stretches(ones), as_stretches(others)
    (limit,) = as_stretches([bounds])
    assert minutes(merged(left)) == minutes(left)
    assert minutes(without(left, right)) == minutes(left) - minutes(right)
    assert minutes(within(left, limit)) == minutes(left) & minutes([limit])
    for found in (merged(left), without(left, right), within(left, limit)):
        assert all(start < end for start, end in found)
        assert all(one[1] < other[0] for one, other in pairwise(found))


# Recovery


def dated(name: str, kind: str, day: int, hour: int, *, minutes: int = 60) -> Dated:
    start = datetime(2027, 3, day, hour, tzinfo=DUBLIN)
    return Dated(name, frozenset({kind}), start, start + timedelta(minutes=minutes))


def test_two_evenings_later_at_the_same_hour_is_about_46_hours():
    """Design facts of the trade: separation runs from the end of one session to the start of the next."""
    assert gap_h(datetime(2027, 3, 2, 19, 30, tzinfo=DUBLIN), datetime(2027, 3, 4, 18, tzinfo=DUBLIN)) == 46


def test_hours_are_real_over_a_clock_change():
    before = datetime(2027, 3, 27, 20, tzinfo=DUBLIN)
    assert gap_h(before, datetime(2027, 3, 28, 20, tzinfo=DUBLIN)) == 23


def test_the_last_hard_session_before_and_the_next_meet_after():
    hard, easy, technique = dated("h", "hard", 2, 18), dated("e", "easy", 3, 18), dated("t", "technique", 4, 18)
    meet = dated("m", "meet", 6, 10)
    items = [meet, technique, easy, hard]
    assert last_strenuous_before(technique, items) == hard
    assert next_strenuous_after(technique, items) == meet
    assert last_strenuous_before(hard, items) is None
    assert neighbours(items) == [(hard, easy), (easy, technique), (technique, meet)]


def test_sessions_that_overlap_have_no_gap():
    assert neighbours([dated("a", "hard", 2, 18, minutes=90), dated("b", "easy", 2, 19)]) == []
