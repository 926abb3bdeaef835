"""Ages by date, checked against a general calendar library and by hand where it decides otherwise."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from athletes.core.ages import (
    ComingOfAge,
    age_on,
    birthday,
    coming_of_age,
    counted_age,
    highest_digital_age,
    is_minor,
    is_under_13,
)
from tests.sizes import examples

DAYS = st.dates(min_value=date(1900, 1, 1), max_value=date(2100, 12, 31))
YEARS = st.integers(min_value=0, max_value=120)
LEAP_CHILD = date(2012, 2, 29)


def born_on_29_february(day: date) -> bool:
    return (day.month, day.day) == (2, 29)


@settings(max_examples=examples(2_000))
@given(DAYS.filter(lambda day: not born_on_29_february(day)), DAYS)
def test_age_is_what_a_calendar_library_says(born: date, day: date) -> None:
    """dateutil's relativedelta, for all but those born on 29 February (it gives those 28 February)."""
    if day >= born:
        assert age_on(born, day) == relativedelta(day, born).years


@settings(max_examples=examples(2_000))
@given(DAYS, YEARS)
def test_the_age_changes_on_the_birthday(born: date, years: int) -> None:
    day = birthday(born, years)
    assert age_on(born, day) == years
    assert age_on(born, day - timedelta(days=1)) == years - 1


# The contract: born on 29 February means a birthday on 1 March in common years. 1900 is none of the leap years
# (Gregorian calendar: centuries only where 400 divides them), 2000 and 2024 are.
@pytest.mark.parametrize(
    ("born", "years", "day"),
    [
        (LEAP_CHILD, 12, date(2024, 2, 29)),
        (LEAP_CHILD, 13, date(2025, 3, 1)),
        (LEAP_CHILD, 16, date(2028, 2, 29)),
        (date(1896, 2, 29), 4, date(1900, 3, 1)),
        (date(1996, 2, 29), 4, date(2000, 2, 29)),
        (date(2012, 2, 28), 13, date(2025, 2, 28)),
        (date(2012, 12, 31), 13, date(2025, 12, 31)),
    ],
)
def test_birthdays(born: date, years: int, day: date) -> None:
    assert birthday(born, years) == day
    assert (age_on(born, day - timedelta(days=1)), age_on(born, day)) == (years - 1, years)


def test_nobody_has_an_age_before_birth() -> None:
    assert age_on(date(2020, 5, 2), date(2020, 5, 1)) == -1
    assert age_on(date(2020, 5, 2), date(2020, 5, 2)) == 0


def test_bands() -> None:
    ages = [None, 9, 12, 13, 17, 18]
    assert [counted_age(age) for age in ages] == [9, 9, 12, 13, 17, 18]
    assert [is_under_13(age) for age in ages] == [True, True, True, False, False, False]
    assert [is_minor(age) for age in ages] == [True, True, True, True, True, False]


def test_the_highest_digital_age_holds() -> None:
    assert highest_digital_age((13, 16, 14)) == 16
    with pytest.raises(ValueError):
        highest_digital_age(())


@pytest.mark.parametrize(
    ("born", "answered", "today", "come"),
    [
        (LEAP_CHILD, date(2024, 9, 1), date(2025, 2, 28), ComingOfAge(None, False)),
        (LEAP_CHILD, date(2024, 9, 1), date(2025, 3, 1), ComingOfAge(0, False)),
        (LEAP_CHILD, date(2025, 2, 28), date(2025, 5, 30), ComingOfAge(90, False)),
        (LEAP_CHILD, date(2025, 3, 1), date(2025, 5, 30), ComingOfAge(None, False)),
        (LEAP_CHILD, date(2030, 2, 28), date(2030, 2, 28), ComingOfAge(None, False)),
        (LEAP_CHILD, date(2030, 2, 28), date(2030, 3, 1), ComingOfAge(None, True)),
        (LEAP_CHILD, date(2030, 3, 1), date(2030, 3, 1), ComingOfAge(None, False)),
        (LEAP_CHILD, date(2024, 9, 1), date(2030, 3, 1), ComingOfAge(1826, True)),
        (LEAP_CHILD, None, date(2030, 3, 1), ComingOfAge(None, False)),
        (None, date(2024, 9, 1), date(2030, 3, 1), ComingOfAge(None, False)),
    ],
)
def test_coming_of_age_at_13_and_18(born: date | None, answered: date | None, today: date, come: ComingOfAge) -> None:
    assert coming_of_age(born, answered, 13, today) == come
