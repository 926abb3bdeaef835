"""XLSX: the first sheet that holds anything, read without formulas, after the packed parts were weighed."""

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from athletes.core.roster_file.faults import FileFault, FileRefused
from athletes.core.roster_file.table import MOST_COLUMNS, MOST_PEOPLE, MOST_ROWS, Cell, Table, bounded

MOST_UNPACKED = 20_000_000
"""Bytes of all parts unpacked (our own choice: 5,000 full rows take about 10 MB)."""

MOST_PARTS = 200
_XML = re.compile(r"\.(xml|rels|vml)\Z", re.IGNORECASE)
_DECLARES = re.compile(rb"<!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)
_WIDE_DECLARES = re.compile("<!\\s*(DOCTYPE|ENTITY)", re.IGNORECASE)
_EMPTY_ROWS_LOOKED_AT = 20_000


def read_workbook(content: bytes) -> Table:
    """The rows of a workbook's first sheet that holds any. Raises FileRefused for what is broken, what declares
    entities, or unpacks to more than `MOST_UNPACKED`."""
    _weigh(content)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about features of the sheet that are not read
            book = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
            day_zero = date(1904, 1, 1) if book.epoch == CALENDAR_MAC_1904 else date(1899, 12, 30)
            try:
                for sheet in book.worksheets:
                    rows = list(_rows_of(sheet))
                    if rows:
                        return bounded(rows, day_zero)
            finally:
                book.close()
    except FileRefused:
        raise
    except Exception:  # a broken workbook fails in many ways; whichever it was, it cannot be read
        raise FileRefused(FileFault.BROKEN) from None
    return Table(())


def _weigh(content: bytes) -> None:
    """Refuse what would unpack to too much, or whose XML declares anything of its own."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
                raise FileRefused(FileFault.TOO_LARGE)
            for part in parts:
                if _XML.search(part.filename):
                    _look_into(packed.read(part))
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, RuntimeError, OSError, EOFError, ValueError):
        raise FileRefused(FileFault.BROKEN) from None
    except MemoryError:
        raise FileRefused(FileFault.TOO_LARGE) from None


def _look_into(part: bytes) -> None:
    """A declaration stands before the first element, in whatever encoding the part has."""
    head = part[:100_000]
    wide = head.decode("utf-16", errors="ignore") if head[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in head[:4] else ""
    if _DECLARES.search(part) or _WIDE_DECLARES.search(wide):
        raise FileRefused(FileFault.UNSAFE)


def _rows_of(sheet: Any) -> Iterator[tuple[int, tuple[Cell, ...]]]:
    found = 0
    cells_of = sheet.iter_rows(max_row=_EMPTY_ROWS_LOOKED_AT, max_col=MOST_COLUMNS + 1, values_only=True)
    for number, values in enumerate(cells_of, 1):
        cells = tuple(_cell(value) for value in values)
        if not any(cell != "" for cell in cells):
            continue
        if len(cells) > MOST_COLUMNS and cells[MOST_COLUMNS] != "":
            raise FileRefused(FileFault.TOO_MANY_COLUMNS, str(MOST_COLUMNS))
        found += 1
        if found > MOST_ROWS:
            raise FileRefused(FileFault.TOO_MANY_ROWS, str(MOST_PEOPLE))
        yield number, cells[:MOST_COLUMNS]


def _cell(value: object) -> Cell:
    """A cell as text, a day, or a number that may be either."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return float(value)
    return str(value)
