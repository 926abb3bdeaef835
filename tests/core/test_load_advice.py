"""Published advice on how much, against the numbers of its sources."""

from datetime import date, timedelta
from fractions import Fraction

import pytest

from sessions.core.load_advice import (
    HEAT_DAYS,
    days_away,
    is_coming_back,
    may_taper,
    return_amounts,
    taper_minutes,
    tapered,
    year_here,
)

TODAY = date(2027, 6, 16)


def test_a_taper_leaves_forty_to_fifty_nine_per_cent():
    """41 to 60 % less volume (Bosquet et al. 2007, Med Sci Sports Exerc 39(8):1358-1365): of 360 min 212.4 to 144."""
    span = taper_minutes(360)
    assert (span.most, span.least) == (Fraction(2124, 10), 144)
    with pytest.raises(ValueError, match="-1"):
        taper_minutes(-1)


@pytest.mark.parametrize("minutes", range(20, 241, 5))
def test_a_tapered_session_lies_in_the_span_as_near_as_five_minutes_allow(minutes):
    span = taper_minutes(minutes)
    assert float(span.least) - 2.5 <= tapered(minutes) <= max(10, float(span.most) + 2.5)


def test_a_taper_is_for_adults_and_older_juniors():
    assert [may_taper(age) for age in (None, 12, 15, 16, 30)] == [False, False, False, True, True]


def test_after_weeks_away_half_then_seven_eight_nine_tenths():
    """50, 30, 20, 10 % less in weeks 1 to 4 (Caterisano et al. 2019, Strength Cond J 41(3):1-23; by week from memory):
    of 2000 m 1000, 1400, 1600, 1800."""
    assert return_amounts(2000) == [1000, 1400, 1600, 1800]


def ago(*days):
    return [TODAY - timedelta(days=one) for one in days]


def test_coming_back_is_told_from_fourteen_full_days_on_and_for_four_weeks():
    assert days_away(ago(15), TODAY) == 14
    assert days_away([], TODAY) is None
    assert is_coming_back(ago(15, 20), TODAY) is True
    assert is_coming_back(ago(14, 20), TODAY) is False
    assert is_coming_back(ago(1, 3, 18), TODAY) is True
    assert is_coming_back(ago(1, 8, 15, 22, 29, 50), TODAY) is False
    assert is_coming_back([], TODAY) is False


def test_heat_is_gradual_for_fourteen_days():
    """Casa et al. 2009, J Athl Train 44(3):332-333 (from memory)."""
    assert HEAT_DAYS == 14


def test_months_and_days_off_as_this_club_saw_them():
    days = [date(2027, month, 10) for month in range(1, 6)] + [date(2026, 6, 1), date(2026, 7, 1)] + ago(0, 2)
    found = year_here(days, TODAY)
    assert (found.months_on, found.days_off) == (7, 5)
    assert year_here(ago(*range(7)), TODAY).days_off == 0
    assert (year_here([], TODAY).months_on, year_here([], TODAY).days_off) == (0, 7)
