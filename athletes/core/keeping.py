"""When the time of what is kept is up: days and years worked out from the periods, and when a night has to wait."""

from collections.abc import Iterable
from datetime import date, timedelta

from athletes.core.permissions.facts import Purpose
from athletes.core.permissions.keeping import DAYS_AFTER_STOP, period_days

MOST_UNASKED = 50
"""Rows of a table that a night may remove however few the table has (the permissions contract)."""

PERCENT_UNASKED = 5
"""Percent of a table that a night may remove however many rows that is (the permissions contract)."""

DAYS_TO_REVIEW = 90
"""A hold is looked at again after so many days (the permissions contract)."""


def over_before(kind: Purpose, *, today: date, club_days: int | None = None, reason_shown: bool = False) -> date | None:
    """What is of a day before this one is over its period on `today`; None where `kind` has no period.

    The same as asking `keep` for each row: `days_kept` is over the period of `kind` in days (the permissions contract).
    """
    period = period_days(kind, club_days=club_days, reason_shown=reason_shown)
    return None if period is None else today - timedelta(days=period)


def stopped_before(*, today: date) -> date:
    """What stopped on a day before this one is over on `today`: health since permission ended, the record since
    leaving (30 days, the permissions contract)."""
    return today - timedelta(days=DAYS_AFTER_STOP)


def last_year_over(over: date) -> int:
    """The last calendar year all of whose days lie before `over`: the pseudonym keys up to that year are destroyed,
    for the newest line that such a key can name is of 31 December."""
    return over.year - 1


def must_wait(*, due: int, total: int) -> bool:
    """Whether a night waits for an admin: more than 50 rows and more than 5 % of a table would go (the permissions
    contract, taken in whole numbers)."""
    return due > MOST_UNASKED and due * 100 > PERCENT_UNASKED * total


def review_by(day: date) -> date:
    """By when a hold that was set, or looked at, on `day` is looked at again."""
    return day + timedelta(days=DAYS_TO_REVIEW)


def stopped_since(causes: Iterable[date | None], *, today: date) -> date:
    """The day on which a permission ended, for one that has ended: the newest of the known causes (a no, a stop, an
    answer that ran out, leaving) that lies not after `today`; `today` itself where none is known."""
    return max((day for day in causes if day is not None and day <= today), default=today)
