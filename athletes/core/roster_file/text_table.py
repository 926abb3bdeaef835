"""CSV as spreadsheets write it: the encoding and the separator are found, never asked."""

import codecs
import csv
import io
import re
from collections import Counter

from athletes.core.roster_file.faults import FileFault, FileRefused
from athletes.core.roster_file.table import MOST_COLUMNS, MOST_ROWS, Cell, Table, bounded

SEPARATORS = ",;\t"
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_SEPARATOR_LINE = re.compile(r"\A\s*\"?sep=(.)\"?\r?\n?\Z", re.IGNORECASE)
_LOOKED_AT = 20


def read_text_table(content: bytes) -> Table:
    """The rows of a CSV file. Raises FileRefused for what is no text, or too many rows or columns."""
    return table_of(decode(content))


def table_of(text: str) -> Table:
    """The rows of CSV text. Raises FileRefused for too many rows or columns, or what is no CSV."""
    first, _, rest = text.partition("\n")
    if said := _SEPARATOR_LINE.match(first):
        return _rows(rest, said.group(1))  # a spreadsheet does not show that line (from memory)
    return _rows(text, separator_of(text))


def decode(content: bytes) -> str:
    """Text of a file in UTF-8 or UTF-16, with its mark or without, else in Windows-1252.

    Without a mark UTF-16 is told by its zero bytes: names in Latin letters have one at every second place.
    """
    for mark, name in _MARKS:
        if content.startswith(mark):
            return _strictly(content[len(mark) :], name)
    head = content[:400]
    if head.count(0) * 4 > len(head):
        return _strictly(content, "utf-16-le" if head[1:2] == b"\0" else "utf-16-be")
    if b"\0" in content:
        raise FileRefused(FileFault.BROKEN)
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return _strictly(content, "cp1252")


def _strictly(content: bytes, encoding: str) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError:
        raise FileRefused(FileFault.BROKEN) from None


def separator_of(text: str) -> str:
    """The separator that parts the first lines into the most columns alike; a comma where none does."""
    sample = io.StringIO(text[:20_000], newline="")
    lines = [line for line, _ in zip(sample, range(_LOOKED_AT), strict=False)]

    def weight(separator: str) -> tuple[int, int]:
        try:
            widths = Counter(len(row) for row in csv.reader(lines, delimiter=separator) if len(row) > 1)
        except csv.Error:
            return (0, 0)
        width, times = max(widths.items(), key=lambda pair: (pair[1], pair[0]), default=(0, 0))
        return (times, width)

    return max(SEPARATORS, key=weight)


def _rows(text: str, separator: str) -> Table:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows: list[tuple[int, tuple[Cell, ...]]] = []
    try:
        for number, cells in enumerate(reader, 1):
            if any(cell.strip() for cell in cells):
                if any(cell.strip() for cell in cells[MOST_COLUMNS:]):
                    raise FileRefused(FileFault.TOO_MANY_COLUMNS, str(MOST_COLUMNS))
                rows.append((number, tuple(cells[:MOST_COLUMNS])))
            if len(rows) > MOST_ROWS:
                break
    except csv.Error:
        raise FileRefused(FileFault.BROKEN) from None
    return bounded(rows)
