"""Ages by date: birthdays, minors, the digital age and what an unknown birth date counts as."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

AGE_WHEN_UNKNOWN = 9
"""Years that an athlete of unknown birth date counts as (the permissions contract)."""

ADULT_AGE = 18
"""Years from which a person is an adult (the permissions contract: minor means under 18)."""

YOUNG_CHILD_AGE = 13
"""Years under which the United States rule asks a guardian first (16 CFR 312.2: a child is under 13)."""

USUAL_DIGITAL_AGE = 16
"""Years from which a child answers by itself where a country says nothing else (GDPR Art. 8(1))."""


def age_on(born: date, day: date) -> int:
    """Whole years lived on `day`, a date in the club's time zone; negative before the birth.

    Born on 29 February means a birthday on 1 March in common years (the permissions contract).
    """
    birthday_is_to_come = (day.month, day.day) < (born.month, born.day)
    return day.year - born.year - birthday_is_to_come


def birthday(born: date, years: int) -> date:
    """The day on which somebody turns `years`; 1 March for 29 February in common years.

    Raises ValueError where that day lies outside the calendar (after the year 9999).
    """
    if (born.month, born.day) == (2, 29) and not _is_leap(born.year + years):
        return date(born.year + years, 3, 1)
    return born.replace(year=born.year + years)


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def counted_age(age: int | None) -> int:
    """Years that the rules reckon with: the age, or that of a young child where it is unknown."""
    return AGE_WHEN_UNKNOWN if age is None else age


def is_minor(age: int | None) -> bool:
    """Under 18, or of unknown age."""
    return counted_age(age) < ADULT_AGE


def is_under_13(age: int | None) -> bool:
    """In the band of young children, or of unknown age."""
    return counted_age(age) < YOUNG_CHILD_AGE


def highest_digital_age(ages: Iterable[int]) -> int:
    """Years of the digital age that holds: the highest of those of the home's and the club's country.

    Raises ValueError where none is given: a country without a known digital age is never guessed.
    """
    return max(ages)


@dataclass(frozen=True, slots=True)
class ComingOfAge:
    """What birthdays since a guardian's yes have done to it."""

    days_since_digital_age: int | None
    """Days since the athlete reached the digital age, where the yes is older than that birthday."""
    turned_18_since_answer: bool
    """The yes is older than the 18th birthday, now past."""


def coming_of_age(born: date | None, answered: date | None, digital_age: int, today: date) -> ComingOfAge:
    """What has come of age between the guardian's yes on `answered` and `today` (dates in the club's zone).

    A birthday counts from its first minute; a yes given on the birthday itself is not from before it.
    Without a birth date or a yes nothing has: unknown counts as a young child.
    """
    if born is None or answered is None:
        return ComingOfAge(None, False)
    return ComingOfAge(
        _days_since_birthday(born, digital_age, answered, today),
        _days_since_birthday(born, ADULT_AGE, answered, today) is not None,
    )


def _days_since_birthday(born: date, years: int, answered: date, today: date) -> int | None:
    """Days from turning `years` until today, or none where that is to come or was already so on `answered`."""
    if age_on(born, today) < years or age_on(born, answered) >= years:
        return None
    return (today - birthday(born, years)).days
