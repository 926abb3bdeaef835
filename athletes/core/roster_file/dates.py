"""Days as people type them: read where there is one reading, asked about where there are two, never guessed."""

import re
from datetime import date, timedelta
from enum import StrEnum

from athletes.core.roster_file.faults import CellFault
from athletes.core.roster_file.table import DAY_ZERO, Cell

MOST_YEARS = 100
"""Years that somebody of a club may have lived, or been a member: with it a year of two digits is one of two no more
(our own choice)."""

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_FULL = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
         "december")  # fmt: skip
_MONTH = {name: number for names in (_MONTHS, _FULL) for number, name in enumerate(names, 1)} | {"sept": 9}
_MIDNIGHT = re.compile(r"[ T]0?0:00(:00(\.0+)?)?Z?\Z")
_YEAR_FIRST = re.compile(r"(\d{4})[-/. ](\d{1,2})[-/. ](\d{1,2})\Z")
_YEAR_LAST = re.compile(r"(\d{1,2})[-/. ]\s?(\d{1,2})[-/. ]\s?(\d{4}|\d{2})\Z")
_DAY_NAMED = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[-/. ]+([a-z]+)\.?[-/., ]+(\d{4}|\d{2})\Z")
_NAMED_DAY = re.compile(r"([a-z]+)\.?[-/. ]+(\d{1,2})(?:st|nd|rd|th)?,?[-/. ]+(\d{4}|\d{2})\Z")


class Order(StrEnum):
    """Which of day and month a file writes first."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"


class DayRefused(Exception):
    """No day that can be taken; `fault` says why."""

    def __init__(self, fault: CellFault) -> None:
        super().__init__(fault.value)
        self.fault = fault


class TwoDays(Exception):
    """Two days could be meant, and nobody has said yet which of day and month stands first."""

    def __init__(self, day_first: date, month_first: date) -> None:
        super().__init__()
        self.day_first, self.month_first = day_first, month_first


def order_of(country: str) -> Order:
    """Which order a club's country writes: month first in the United States, day first elsewhere (common practice, no
    source). It is offered first where a file is asked about; it never decides."""
    return Order.MONTH_FIRST if country == "US" else Order.DAY_FIRST


def read_day(cell: Cell, *, today: date, day_zero: date = DAY_ZERO, order: Order | None = None) -> date:
    """The day in a cell: ISO 8601 (year first), a month by its English name, two numbers before the year in `order`,
    or a workbook's count of days from `day_zero`.

    Without `order`, two numbers that can both be the month raise TwoDays; with it, whatever it does not fit raises
    DayRefused, as does what is no day, lies after `today` or more than a hundred years before it.
    """
    if isinstance(cell, date):
        return _likely(cell, today)
    if isinstance(cell, float):
        return _likely(_counted(cell, day_zero), today)
    text = _MIDNIGHT.sub("", cell.strip()).strip().lower().rstrip(".")
    if found := _YEAR_FIRST.match(text):
        return _likely(_day(*map(int, found.groups())), today)
    if found := _DAY_NAMED.match(text):
        return _likely(_day(_year(found[3], today), _MONTH.get(found[2], 0), int(found[1])), today)
    if found := _NAMED_DAY.match(text):
        return _likely(_day(_year(found[3], today), _MONTH.get(found[1], 0), int(found[2])), today)
    if found := _YEAR_LAST.match(text):
        return _likely(_by_order(int(found[1]), int(found[2]), _year(found[3], today), order), today)
    raise DayRefused(CellFault.NOT_A_DAY)


def _by_order(first: int, second: int, year: int, order: Order | None) -> date:
    if order is Order.DAY_FIRST:
        return _day(year, second, first)
    if order is Order.MONTH_FIRST:
        return _day(year, first, second)
    if first != second and first <= 12 and second <= 12:
        raise TwoDays(_day(year, second, first), _day(year, first, second))
    return _day(year, second, first) if second <= 12 else _day(year, first, second)


def _year(text: str, today: date) -> int:
    """Of two digits, the newest year that is not to come."""
    year = int(text)
    if len(text) == 4:
        return year
    year += today.year // 100 * 100
    return year if year <= today.year else year - 100


def _counted(days: float, day_zero: date) -> date:
    """A workbook's count: up to 60 it counts a 29 February 1900 that never was, too long ago to matter here."""
    if days != int(days) or not 1 <= days <= 100_000:
        raise DayRefused(CellFault.NOT_A_DAY)
    return day_zero + timedelta(days=int(days))


def _day(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise DayRefused(CellFault.NOT_A_DAY) from None


def _likely(day: date, today: date) -> date:
    if day > today:
        raise DayRefused(CellFault.DAY_TO_COME)
    if day.year < today.year - MOST_YEARS:
        raise DayRefused(CellFault.LONG_AGO)
    return day
