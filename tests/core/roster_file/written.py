"""Twelve files of the same club, as spreadsheets really write them (traits: common practice, no source)."""

import codecs
import csv
import io
from collections.abc import Callable
from datetime import date, datetime

from openpyxl import Workbook

HEADINGS = (
    "First name", "Surname", "Date of birth", "Squad", "Event groups", "Email", "Mobile", "Parent 1 name",
    "Parent 1 phone", "Parent 1 email", "Emergency contact", "Emergency phone", "May collect", "Joined",
)  # fmt: skip
PEOPLE = (
    ("Zoë", "O’Brady", date(2012, 4, 3), "U16", "Sprint; Hurdles", "", "", "Mór O’Brady", "+353 85 555 0101",
     "mor@club.example", "Mór O’Brady (mother)", "+353 85 555 0101", "Mór O’Brady", date(2024, 9, 1)),
    ("Bjørn", "Åkesen-Lind", date(2013, 12, 11), "U14", "Sprint", "bjorn@club.example", "085 555 0102", "", "", "",
     "Nan, of the mill", "085 555 0103", "", date(2025, 1, 13)),
    ("Renée", "de la Tour", date(2008, 2, 29), "U20", "Longer distance", "", "", "Luc de la Tour", "085 555 0104", "",
     "Luc de la Tour", "085 555 0104", "Luc de la Tour", date(2022, 10, 10)),
)  # fmt: skip
Days = Callable[[date], object]


def dotted(day: date) -> str:
    return f"{day:%d.%m.%Y}"


def slashed(day: date) -> str:
    return f"{day.day}/{day.month}/{day.year}"


def american(day: date) -> str:
    return f"{day:%m/%d/%Y}"


def named(day: date) -> str:
    return f"{day.day} {day:%b} {day:%y}"


def rows(days: Days = date.isoformat, *, order: tuple[int, ...] = tuple(range(len(HEADINGS)))) -> list[list[object]]:
    """Headings and people, the columns in an order."""
    people = [[days(cell) if isinstance(cell, date) else cell for cell in person] for person in PEOPLE]
    return [[line[place] for place in order] for line in ([*HEADINGS], *people)]


def as_csv(
    lines: list[list[object]], separator: str = ",", ending: str = "\r\n", quoting: int = csv.QUOTE_MINIMAL
) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator, lineterminator=ending, quoting=quoting).writerows(lines)
    return out.getvalue()


def as_workbook(lines: list[list[object]], *, prepare: Callable[[Workbook], None] | None = None) -> bytes:
    book = Workbook()
    for line in lines:
        book.active.append([cell if cell != "" else None for cell in line])
    if prepare:
        prepare(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _merged_heading(book: Workbook) -> None:
    """A title merged over all columns, and a guardian's three columns under one merged word."""
    sheet = book.active
    place = HEADINGS.index("Parent 1 name") + 1
    for column, word in enumerate(("Name", "Phone", "E-mail"), place):
        sheet.cell(1, column, word)
    sheet.insert_rows(1, 2)
    sheet.cell(1, 1, "Chalk Lane AC, roster")
    sheet.merge_cells(start_row=1, start_column=1, end_row=1, end_column=len(HEADINGS))
    sheet.cell(2, place, "Parent 1")
    sheet.merge_cells(start_row=2, start_column=place, end_row=2, end_column=place + 2)


def _formatted_far_out(book: Workbook) -> None:
    """Empty cells that were formatted once, far below and far right, and a second, empty sheet before."""
    for row in (50, 900):
        book.active.cell(row, 3).number_format = "DD/MM/YYYY"
    book.active.cell(2, 40).number_format = "0.00"
    book.create_sheet("Notes", 0)


def _counted_from_1904(book: Workbook) -> None:
    book.epoch = datetime(1904, 1, 1)


def _serials(day: date) -> int:
    """Days counted from 30 December 1899 (ECMA-376 part 1, 18.17.4.1: the 1900 date base)."""
    return (day - date(1899, 12, 30)).days


def _with_empty_ends(lines: list[list[object]]) -> list[list[object]]:
    wide = [[*line, "", ""] for line in lines]
    return [*wide, *[[""] * len(wide[0])] * 5]


def _broken_cells(lines: list[list[object]]) -> list[list[object]]:
    """Cells with line ends inside, as Alt+Enter makes them."""
    return [[str(cell).replace("; ", "\n") for cell in line] for line in lines]


def twelve_files() -> dict[str, bytes]:
    back = tuple(reversed(range(len(HEADINGS))))
    return {
        "UTF-8, comma, CRLF": as_csv(rows()).encode(),
        "UTF-8 with mark, all quoted": codecs.BOM_UTF8 + as_csv(rows(dotted), quoting=csv.QUOTE_ALL).encode(),
        "Windows-1252, semicolon": as_csv(rows(dotted), ";").encode("cp1252"),
        "semicolon, separator named in its first line": ("sep=;\r\n" + as_csv(rows(slashed), ";")).encode("cp1252"),
        "UTF-16 with mark, tab": codecs.BOM_UTF16_LE + as_csv(rows(slashed), "\t").encode("utf-16-le"),
        "UTF-16 without mark, tab": as_csv(rows(named), "\t").encode("utf-16-le"),
        "old line ends, columns the other way round": as_csv(rows(named, order=back), ending="\r").encode(),
        "line ends inside cells, empty rows and columns": as_csv(
            _broken_cells(_with_empty_ends(rows(slashed))), ","
        ).encode(),
        "workbook with days": as_workbook(rows(lambda day: day)),
        "workbook with counted days, formatted far out": as_workbook(rows(_serials), prepare=_formatted_far_out),
        "workbook with a title and merged headings": as_workbook(rows(dotted), prepare=_merged_heading),
        "workbook that counts from 1904": as_workbook(rows(lambda day: day), prepare=_counted_from_1904),
    }
