"""Marks from a file of rows: which column is which, and each row as a mark or as a fault with its column.

Rows, separators and days are read as those of a roster are: a day that could be two is asked about, never guessed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from athletes.core.marks import Event, TimeFault, read_time, read_wind
from athletes.core.roster_file.dates import DayRefused, Order, TwoDays, read_day
from athletes.core.roster_file.faults import CellFault, FileRefused
from athletes.core.roster_file.faults import FileFault as TableFault
from athletes.core.roster_file.lines import letters_of
from athletes.core.roster_file.table import Cell
from athletes.core.roster_file.text_table import table_of

MOST_ROWS = 2000
HEADINGS: Mapping[str, tuple[str, ...]] = {
    "name": ("name", "athlete", "full name"),
    "given_name": ("given name", "first name", "forename"),
    "family_name": ("family name", "last name", "surname"),
    "event": ("event", "distance", "discipline"),
    "time": ("time", "mark", "result", "performance"),
    "timing": ("timing", "hand", "method"),
    "wind": ("wind", "wind m/s"),
    "day": ("date", "day", "run on"),
}
"""The usual headings of each column (common practice, no source)."""

HAND_WORDS = {"hand", "h", "manual", "m", "yes", "y", "1"}
ELECTRONIC_WORDS = {"", "electronic", "e", "auto", "automatic", "fat", "no", "n", "0"}


class FileFault(StrEnum):
    """Why no row of a file can be read."""

    EMPTY = "empty"
    NO_NAME = "no_name"
    NO_COLUMN = "no_column"
    TOO_MANY_ROWS = "too_many_rows"
    BROKEN = "broken"


class RowFault(StrEnum):
    """What is wrong with a row."""

    NO_NAME = "no_name"
    EVENT = "event"
    TIME = "time"
    TIMING = "timing"
    WIND = "wind"
    DAY = "day"
    DAY_TO_COME = "day_to_come"
    LONG_AGO = "long_ago"


_DAY_FAULTS = {CellFault.DAY_TO_COME: RowFault.DAY_TO_COME, CellFault.LONG_AGO: RowFault.LONG_AGO}


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One row that can be read: whose name stands there, and the mark."""

    number: int
    name: str
    event: Event
    time_ms: int
    is_hand: bool
    wind_tenths: int | None
    day: date


@dataclass(frozen=True, slots=True)
class BadRow:
    """One row that cannot: which column says what, and where that stands in a spreadsheet, as D7."""

    number: int
    column: str
    cell: str
    fault: RowFault
    place: str = ""


@dataclass(frozen=True, slots=True)
class TwoWays:
    """A day that could be two, by which of day and month stands first."""

    place: str
    cell: str
    days: Mapping[Order, date]


@dataclass(frozen=True, slots=True)
class MarksFile:
    """What a file holds: rows that can be read, rows that cannot, days that could be two, or why none can be read."""

    rows: tuple[MarkRow, ...] = ()
    bad: tuple[BadRow, ...] = ()
    two_ways: tuple[TwoWays, ...] = ()
    fault: FileFault | None = None


def read_marks(text: str, *, today: date, order: Order | None = None) -> MarksFile:
    """The rows of a CSV file with a line of headings, in any order of columns.

    Days are read as `roster_file.dates.read_day` reads them; without `order` a day that could be two gives no row and
    is among `two_ways`.
    """
    try:
        table = table_of(text.lstrip("\ufeff")).rows
    except FileRefused as refused:
        is_long = refused.fault is TableFault.TOO_MANY_ROWS
        return MarksFile(fault=FileFault.TOO_MANY_ROWS if is_long else FileFault.BROKEN)
    if not table:
        return MarksFile(fault=FileFault.EMPTY)
    if len(table) - 1 > MOST_ROWS:
        return MarksFile(fault=FileFault.TOO_MANY_ROWS)
    columns = _columns(table[0][1])
    if not ({"name"} <= columns.keys() or {"given_name", "family_name"} <= columns.keys()):
        return MarksFile(fault=FileFault.NO_NAME)
    if not {"event", "time", "day"} <= columns.keys():
        return MarksFile(fault=FileFault.NO_COLUMN)
    read = [_row(number, row, columns, today, order) for number, row in table[1:]]
    good = tuple(one for one in read if isinstance(one, MarkRow))
    bad = tuple(one for one in read if isinstance(one, BadRow))
    two_ways = tuple(one for one in read if isinstance(one, TwoWays))
    return MarksFile(good, bad, two_ways, None if read else FileFault.EMPTY)


def _columns(headings: Sequence[Cell]) -> dict[str, int]:
    known = {heading: column for column, texts in HEADINGS.items() for heading in texts}
    found: dict[str, int] = {}
    for place, heading in enumerate(headings):
        column = known.get(" ".join(str(heading).lower().replace("_", " ").split()))
        if column is not None:
            found.setdefault(column, place)
    return found


def _row(
    number: int, row: Sequence[Cell], columns: Mapping[str, int], today: date, order: Order | None
) -> MarkRow | BadRow | TwoWays:
    cells = {name: str(row[place]).strip() if place < len(row) else "" for name, place in columns.items()}
    name = cells.get("name") or f"{cells.get('given_name', '')} {cells.get('family_name', '')}".strip()
    timing = cells.get("timing", "").lower()
    column, fault = "name", RowFault.NO_NAME
    try:
        if not name:
            raise ValueError(name)
        column, fault = "event", RowFault.EVENT
        event = read_event(cells["event"])
        column, fault = "timing", RowFault.TIMING
        if timing not in HAND_WORDS | ELECTRONIC_WORDS:
            raise ValueError(timing)
        column, fault = "time", RowFault.TIME
        time_ms = read_time(cells["time"])
        column, fault = "wind", RowFault.WIND
        wind = read_wind(cells.get("wind", ""))
        column, fault = "day", RowFault.DAY
        day = read_day(cells["day"], today=today, order=order)
    except TwoDays as two:
        days = {Order.DAY_FIRST: two.day_first, Order.MONTH_FIRST: two.month_first}
        return TwoWays(_place(number, columns, "day"), cells["day"], days)
    except DayRefused as refused:
        fault = _DAY_FAULTS.get(refused.fault, RowFault.DAY)
        return BadRow(number, "day", cells["day"], fault, _place(number, columns, "day"))
    except (TimeFault, ValueError):
        return BadRow(number, column, cells.get(column, ""), fault, _place(number, columns, column))
    return MarkRow(number, name, event, time_ms, timing in HAND_WORDS, wind, day)


def _place(number: int, columns: Mapping[str, int], column: str) -> str:
    """A cell as a spreadsheet names it; without a column for whole names, that of the given name."""
    return f"{letters_of(columns.get(column, columns.get('given_name', 0)))}{number}"


def read_event(text: str) -> Event:
    """The event in "100", "100 m", "1500m", "110 m hurdles" or "3000 steeple". Raises ValueError."""
    plain = "".join(text.lower().split())
    for word, code in (("hurdles", "h"), ("steeplechase", "sc"), ("steeple", "sc"), ("metres", ""), ("meters", "")):
        plain = plain.replace(word, code)
    if plain != "mile":
        plain = plain.replace("m", "")
    return Event(plain)
