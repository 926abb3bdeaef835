"""When a session that was planned easy or moderate was hard: the rule of the club's numbers, case by case.

The numbers are common practice, no source; the median is checked against the standard library's.
"""

import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.really_hard import HardRule, Report, hardness, may_turn_hard
from tests.sizes import examples

RULE = HardRule()


def told(*values, words=()):
    numbers = [Report(f"a{place}", value) for place, value in enumerate(values)]
    return numbers + [Report(f"w{place}", value, in_words=True) for place, value in enumerate(words)]


@pytest.mark.parametrize(
    ("kinds", "may"),
    [
        (["easy"], True),
        (["moderate"], True),
        (["technique", "moderate"], True),
        (["technique"], False),
        (["hard"], False),
        (["moderate", "hard"], False),
        (["meet", "easy"], False),
    ],
)
def test_only_a_session_planned_easy_or_moderate_can_have_been_harder(kinds, may):
    assert may_turn_hard(kinds) is may


@pytest.mark.parametrize(
    ("reports", "came", "is_group_hard", "alone"),
    [
        (told(), 8, False, set()),
        (told(7), 1, False, {"a0"}),
        (told(6), 1, False, set()),
        (told(7, 8), 2, False, {"a0", "a1"}),
        (told(7, 7, 7), 6, True, {"a0", "a1", "a2"}),
        (told(7, 7, 7), 7, False, {"a0", "a1", "a2"}),
        (told(2, 7, 9), 3, True, {"a1", "a2"}),
        (told(6, 6, 9), 3, False, {"a2"}),
        (told(6, 6, 7, 10), 4, False, {"a2", "a3"}),
        (told(6, 7, 7, 10), 4, True, {"a1", "a2", "a3"}),
        (told(7, 7, words=[7]), 3, False, {"a0", "a1", "w0"}),
        (told(7, 7, 7, words=[2, 2]), 5, True, {"a0", "a1", "a2"}),
    ],
)
def test_alone_at_once_and_the_group_by_the_median_of_enough(reports, came, is_group_hard, alone):
    found = hardness(reports, came, RULE)
    assert (found.is_group_hard, found.alone) == (is_group_hard, alone)


@settings(max_examples=examples(1000))
@given(st.lists(st.integers(0, 10), max_size=12), st.integers(0, 12), st.integers(1, 10), st.integers(3, 6))
def test_the_group_follows_the_median_alone(values, missing, from_rpe, least):
    found = hardness(told(*values), len(values) + missing, HardRule(from_rpe, least, 50))
    enough = len(values) >= least and len(values) >= missing
    assert found.is_group_hard == (enough and statistics.median(values) >= from_rpe)
