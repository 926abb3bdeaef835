"""A file's rows of cells: told apart by its first bytes, bounded before anything is unpacked."""

from dataclasses import dataclass, field
from datetime import date

from athletes.core.roster_file.faults import FileFault, FileRefused

MOST_BYTES = 5_000_000
"""Bytes of a file that is taken (our own choice: 5,000 full rows take about 1.5 MB as text)."""

MOST_PEOPLE = 5_000
"""Rows of people in a file (our own choice: more than the largest club's year)."""

MOST_ROWS = MOST_PEOPLE + 100
"""Rows that are looked at: titles and empty rows among them."""

MOST_COLUMNS = 200
"""Columns that are looked at (our own choice: room for twenty guardians and sixty numbers an athlete); what stands
further right is refused, not left out unseen."""

MOST_SIGNS = 500
"""Signs in a cell that is read; a longer one is a fault of that cell."""

DAY_ZERO = date(1899, 12, 30)
"""From which most workbooks count days (ECMA-376 part 1, 18.17.4.1)."""

Cell = str | date | float
_WORKBOOK, _OLD_WORKBOOK = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True)
class Table:
    """Rows of cells with the number that the spreadsheet shows beside each; `day_zero` is the day from which the
    workbook counts days."""

    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    day_zero: date = field(default=DAY_ZERO)


def read_table(content: bytes) -> Table:
    """The rows of a CSV or XLSX file, empty ones left out.

    Raises FileRefused for what is empty, too large, broken or unsafe to unpack.
    """
    from athletes.core.roster_file.text_table import read_text_table

    if len(content) > MOST_BYTES:
        raise FileRefused(FileFault.TOO_LARGE)
    if content.startswith(_OLD_WORKBOOK):
        raise FileRefused(FileFault.OLD_WORKBOOK)
    if content.startswith(_WORKBOOK):
        from athletes.core.roster_file.workbook import read_workbook  # loaded where there is one

        table = read_workbook(content)
    else:
        table = read_text_table(content)
    if not table.rows:
        raise FileRefused(FileFault.EMPTY)
    return table


def bounded(rows: list[tuple[int, tuple[Cell, ...]]], day_zero: date = DAY_ZERO) -> Table:
    """The table of these rows without empty ones and empty ends. Raises FileRefused where they are too many or too
    wide."""
    kept = [(number, _without_empty_end(cells)) for number, cells in rows]
    kept = [(number, cells) for number, cells in kept if cells]
    if len(kept) > MOST_ROWS:
        raise FileRefused(FileFault.TOO_MANY_ROWS, str(MOST_PEOPLE))
    if any(len(cells) > MOST_COLUMNS for _, cells in kept):
        raise FileRefused(FileFault.TOO_MANY_COLUMNS, str(MOST_COLUMNS))
    return Table(tuple(kept), day_zero)


def _without_empty_end(cells: tuple[Cell, ...]) -> tuple[Cell, ...]:
    end = len(cells)
    while end and (cells[end - 1] == "" or (isinstance(cells[end - 1], str) and not str(cells[end - 1]).strip())):
        end -= 1
    return cells[:end]
