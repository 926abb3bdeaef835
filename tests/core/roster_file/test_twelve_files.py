"""Twelve files as spreadsheets write them give the same club; others are refused before they do harm."""

import csv
import io
import zipfile
from datetime import date

import pytest
from openpyxl.utils import get_column_letter

from athletes.core.roster_file.dates import Order
from athletes.core.roster_file.faults import CellFault, FileFault, FileRefused
from athletes.core.roster_file.lines import Guardian, Ring, read_lines
from athletes.core.roster_file.table import MOST_BYTES, MOST_COLUMNS, MOST_PEOPLE, read_table
from athletes.core.roster_file.workbook import MOST_UNPACKED
from tests.core.roster_file.written import as_csv, as_workbook, rows, slashed, twelve_files

TODAY = date(2026, 11, 29)
FILES = twelve_files()


def read(content, order=Order.DAY_FIRST):
    return read_lines(read_table(content), today=TODAY, order=order)


def without_rows(reading):
    return [(line.given, line.family, line.born, line.squad, line.groups, line.email, line.phone, line.guardians,
             line.rings, line.collect, line.since) for line in reading.lines]  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_the_same_club(name):
    reading = read(FILES[name])
    assert reading.faults == []
    assert reading.not_read == ()
    assert without_rows(reading) == without_rows(read(FILES["UTF-8, comma, CRLF"]))


def test_and_it_is_the_club_that_was_written():
    zoe, bjorn, renee = read(FILES["UTF-8, comma, CRLF"]).lines
    assert (zoe.given, zoe.family, zoe.born, zoe.groups) == ("Zoë", "O’Brady", date(2012, 4, 3), ("Sprint", "Hurdles"))
    assert zoe.guardians == (Guardian("Mór", "O’Brady", "+353 85 555 0101", "mor@club.example"),)
    assert zoe.rings == (Ring("Mór O’Brady", "mother", "+353 85 555 0101"),)
    assert (bjorn.phone, bjorn.since, bjorn.guardians) == ("085 555 0102", date(2025, 1, 13), ())
    assert (renee.born, renee.collect) == (date(2008, 2, 29), ("Luc de la Tour",))


def test_a_day_that_could_be_two_is_asked_and_then_read_as_was_said():
    content = as_csv(rows(slashed)).encode()
    asked = read(content, None)
    assert [(one.row, one.column, one.said) for one in asked.two_ways] == [
        (2, "Birth date", "3/4/2012"), (2, "Member since", "1/9/2024"), (3, "Birth date", "11/12/2013"),
    ]  # fmt: skip
    assert (asked.two_ways[0].day_first, asked.two_ways[0].month_first) == (date(2012, 4, 3), date(2012, 3, 4))
    assert read(content, Order.DAY_FIRST).lines[0].born == date(2012, 4, 3)
    other = read(content, Order.MONTH_FIRST)
    assert [(one.row, one.column, one.why) for one in other.faults] == [
        (3, "Member since", CellFault.NOT_A_DAY), (4, "Birth date", CellFault.NOT_A_DAY),
    ]  # fmt: skip


BAD = {
    "First name": [
        ("", CellFault.MISSING), ("x" * 61, CellFault.TOO_LONG), ("A\0b", None), ("A\x07b", CellFault.UNREADABLE),
    ],
    "Date of birth": [
        ("31/02/2012", CellFault.NOT_A_DAY), ("2027-01-01", CellFault.DAY_TO_COME), ("1890-01-01", CellFault.LONG_AGO),
        ("soon", CellFault.NOT_A_DAY), ("9" * 600, CellFault.TOO_LONG),
    ],
    "Email": [("nobody", CellFault.NOT_AN_EMAIL), ("a b@c.example", CellFault.NOT_AN_EMAIL)],
    "Mobile": [("ring me", CellFault.NOT_A_NUMBER), ("1234567890123456", CellFault.NOT_A_NUMBER)],
    "Parent 1 name": [("", CellFault.NAME_MISSING)],
    "Emergency phone": [("", CellFault.MISSING)],
}  # fmt: skip


@pytest.mark.parametrize(("heading", "cell", "why"), [(h, *pair) for h, pairs in BAD.items() for pair in pairs])
def test_a_fault_names_row_column_and_reason(heading, cell, why):
    lines = rows()
    lines[1][lines[0].index(heading)] = cell
    if why is None:  # a zero sign belongs in no text file
        with pytest.raises(FileRefused) as refused:
            read(as_csv(lines).encode())
        assert refused.value.fault is FileFault.BROKEN
        return
    reading = read(as_csv(lines).encode())
    assert [(fault.row, fault.why) for fault in reading.faults] == [(2, why)]
    letter = get_column_letter(lines[0].index(heading) + 1)
    assert [reading.cell(fault.row, fault.column) for fault in reading.faults] == [f"{letter}2"]
    assert [line.row for line in reading.lines] == [3, 4]


def packed(**parts):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in parts.items():
            book.writestr(name, content)
    return out.getvalue()


def with_part(content, name, change):
    """A workbook with one part changed."""
    found = zipfile.ZipFile(io.BytesIO(content))
    return packed(**{one: change(found.read(one)) if one == name else found.read(one) for one in found.namelist()})


LAUGHS = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
BOOK = as_workbook(rows())
REFUSED = {
    "nothing": (b"", FileFault.EMPTY),
    "blank": (b"\xef\xbb\xbf \r\n;;;\r\n", FileFault.EMPTY),
    "too large": (b"x" * (MOST_BYTES + 1), FileFault.TOO_LARGE),
    "too many rows": (as_csv([*rows(), *[["A", "B"]] * MOST_PEOPLE]).encode(), FileFault.TOO_MANY_ROWS),
    "too wide": (as_csv([*rows(), ["x"] * (MOST_COLUMNS + 1)]).encode(), FileFault.TOO_MANY_COLUMNS),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(range(256)), FileFault.BROKEN),
    "an old workbook": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 512, FileFault.OLD_WORKBOOK),
    "no headings": (b"Noela,Tester\r\nIvo,Tester\r\n", FileFault.NO_HEADINGS),
    "headings alone": (b"First name,Surname\r\n", FileFault.EMPTY),
    "two columns alike": (b"First name,Surname,Last name\r\nA,B,C\r\n", FileFault.DOUBLE_HEADING),
    "one endless cell": (b'First name,Surname\r\n"' + b"a" * 200_000 + b'",B', FileFault.BROKEN),
    "half a UTF-16 sign": (b"\xff\xfe" + "First name".encode("utf-16-le") + b"\xd8", FileFault.BROKEN),
    "no workbook inside": (packed(**{"a.txt": b"x"}), FileFault.BROKEN),
    "a cut workbook": (BOOK[:-200], FileFault.BROKEN),
    "a bomb": (packed(**{"xl/worksheets/sheet1.xml": b" " * (MOST_UNPACKED + 1)}), FileFault.TOO_LARGE),
    "many small parts": (packed(**{f"p{n}.xml": b"" for n in range(300)}), FileFault.TOO_LARGE),
    "entities": (with_part(BOOK, "xl/worksheets/sheet1.xml", lambda xml: LAUGHS + xml), FileFault.UNSAFE),
    "entities, wide": (
        with_part(BOOK, "xl/workbook.xml", lambda xml: (LAUGHS.decode() + xml.decode()).encode("utf-16")),
        FileFault.UNSAFE,
    ),
    "a workbook too wide": (as_workbook([*rows(), ["x"] * (MOST_COLUMNS + 1)]), FileFault.TOO_MANY_COLUMNS),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_roster_is_refused_whole(name):
    content, fault = REFUSED[name]
    with pytest.raises(FileRefused) as refused:
        read(content)
    assert refused.value.fault is fault


def test_a_part_that_lies_about_its_size_is_cut_not_unpacked():
    bomb = bytearray(packed(**{"xl/workbook.xml": b" " * 2_000_000}))
    for magic, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = bomb.index(magic) + offset
        bomb[at : at + 4] = (100).to_bytes(4, "little")
    with pytest.raises(FileRefused) as refused:
        read(bytes(bomb))
    assert refused.value.fault is FileFault.BROKEN


def test_a_formula_is_read_as_what_it_last_gave_never_worked_out():
    lines = rows()
    lines[1][0] = '=HYPERLINK("http://club.example","x")'
    reading = read(as_workbook(lines))
    assert [(fault.row, fault.column, fault.why) for fault in reading.faults] == [(2, "Given name", CellFault.MISSING)]


def test_quotes_as_csv_writes_them_stay_names():
    lines = rows()
    lines[1][0] = 'Zoë "Zip"'
    assert read(as_csv(lines, ";", quoting=csv.QUOTE_ALL).encode()).lines[0].given == 'Zoë "Zip"'
