"""The lines of a roster file: each row's cells read and checked, faults by cell, days that could be two asked about."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from uuid import UUID

from athletes.core.roster_file.columns import Column, Headings, find_headings, guardian_columns, ring_columns
from athletes.core.roster_file.dates import DayRefused, Order, TwoDays, read_day
from athletes.core.roster_file.faults import CellFault, Fault, FileFault, FileRefused
from athletes.core.roster_file.names import folded, number_of
from athletes.core.roster_file.safe_text import clean, is_readable, unguarded
from athletes.core.roster_file.table import MOST_PEOPLE, MOST_SIGNS, Cell, Table

MOST_DIGITS, LEAST_DIGITS = 15, 3
"""Digits of a telephone number: at most 15 (ITU-T E.164, section 6); short ones inside a house are left alone."""

_LONGEST: dict[str, int] = {Column.GIVEN: 60, Column.FAMILY: 60, Column.SQUAD: 60, Column.EMAIL: 254}
_NAME_LONGEST, _GROUP_LONGEST, _PHONE_LONGEST, _RELATION_LONGEST = 120, 60, 30, 60
_EMAIL = re.compile(r"[^@\s,;<>\"]{1,64}@[^@\s,;<>\"]+\.[^@\s,;<>\".]{2,}\Z")
_PHONE = re.compile(r"[\d\s()+./-]+\Z")
_RELATION = re.compile(r"(?P<name>.*?)\s*\((?P<relation>[^()]*)\)\Z")


@dataclass(frozen=True)
class Guardian:
    """A guardian as a file names one, in its columns of a `number`; authority is never read from a file."""

    given: str
    family: str
    phone: str = ""
    email: str = ""
    number: int = field(default=1, compare=False)

    @property
    def name(self) -> str:
        return f"{self.given} {self.family}".strip()


@dataclass(frozen=True)
class Ring:
    """Somebody to ring, and who that is to the athlete."""

    name: str
    relation: str
    phone: str


@dataclass(frozen=True)
class Line:
    """One athlete as a file has it. What a file says nothing about is empty, and changes nothing."""

    row: int
    given: str
    family: str
    key: UUID | None = None
    born: date | None = None
    squad: str = ""
    groups: tuple[str, ...] = ()
    email: str = ""
    phone: str = ""
    guardians: tuple[Guardian, ...] = ()
    rings: tuple[Ring, ...] = ()
    collect: tuple[str, ...] = ()
    since: date | None = None
    country: str = ""

    @property
    def name(self) -> str:
        return f"{self.given} {self.family}".strip()


@dataclass(frozen=True)
class TwoWays:
    """A cell that could mean two days."""

    row: int
    column: str
    said: str
    day_first: date
    month_first: date


@dataclass
class Reading:
    """What a file says: its lines, its faults, the days that are asked about, the headings that were not understood,
    and where each column stands, counted from 0."""

    lines: list[Line] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    two_ways: list[TwoWays] = field(default_factory=list)
    not_read: tuple[str, ...] = ()
    places: dict[str, int] = field(default_factory=dict)

    def cell(self, row: int, column: str) -> str:
        """A cell as a spreadsheet names it, D7; empty where the file has no such column."""
        place = self.places.get(column)
        return "" if place is None else f"{letters_of(place)}{row}"


def letters_of(place: int) -> str:
    """The letters over a spreadsheet's column, counted from 0: A to Z, then AA."""
    letters = ""
    while place >= 0:
        place, rest = divmod(place, 26)
        letters, place = chr(ord("A") + rest) + letters, place - 1
    return letters


def read_lines(table: Table, *, today: date, order: Order | None = None) -> Reading:
    """Read all rows under the headings. A row with a fault, or with a day that could be two, gives no line.

    Raises FileRefused where no headings are found, nothing stands under them, or more than `MOST_PEOPLE` rows do.
    """
    headings = find_headings(table)
    rows = table.rows[headings.below :]
    if len(rows) > MOST_PEOPLE:
        raise FileRefused(FileFault.TOO_MANY_ROWS, str(MOST_PEOPLE))
    if not rows:
        raise FileRefused(FileFault.EMPTY)
    reading = Reading(not_read=headings.not_read, places=headings.places)
    keys: dict[UUID, int] = {}
    for number, cells in rows:
        one = _Row(number, cells, headings, table.day_zero, today, order)
        line = one.line()
        if line is not None and line.key is not None and keys.setdefault(line.key, number) != number:
            one.fault(Column.KEY, CellFault.KEY_TWICE, str(keys[line.key]))
        reading.faults += one.faults
        reading.two_ways += one.two_ways
        if line is not None and not one.faults and not one.two_ways:
            reading.lines.append(line)
    return reading


def parted_name(text: str) -> tuple[str, str]:
    """Given and family name of one cell: what stands before a comma is the family name, else the last word is (common
    practice, no source)."""
    if "," in text:
        family, _, given = text.partition(",")
        return given.strip(), family.strip()
    given, _, family = text.rpartition(" ")
    return given.strip(), family.strip()


@dataclass
class _Row:
    """One row on its way to a line."""

    number: int
    cells: tuple[Cell, ...]
    headings: Headings
    day_zero: date
    today: date
    order: Order | None
    faults: list[Fault] = field(default_factory=list)
    two_ways: list[TwoWays] = field(default_factory=list)

    def fault(self, column: str, why: CellFault, said: str = "") -> None:
        self.faults.append(Fault(self.number, str(column), why, said[:80]))

    def line(self) -> Line | None:
        given, family = self.name(Column.GIVEN), self.name(Column.FAMILY)
        guardians = tuple(self.guardians())
        return Line(
            row=self.number,
            given=given,
            family=family,
            key=self.key(),
            born=self.day(Column.BORN),
            squad=self.text(Column.SQUAD),
            groups=tuple(self.groups()),
            email=self.email(Column.EMAIL),
            phone=self.phone(Column.PHONE),
            guardians=guardians,
            rings=tuple(self.rings(guardians)),
            collect=tuple(self.several(Column.COLLECT, _NAME_LONGEST)),
            since=self.day(Column.SINCE),
            country=self.country(),
        )

    def cell(self, column: str) -> Cell:
        place = self.headings.places.get(column)
        return "" if place is None or place >= len(self.cells) else self.cells[place]

    def text(self, column: str, longest: int = 0) -> str:
        """The cell as clean text; a number of a workbook without its empty decimals."""
        cell = self.cell(column)
        if isinstance(cell, float):
            said = str(int(cell)) if cell == int(cell) and abs(cell) < 1e16 else str(cell)
        else:
            said = str(cell)
        if len(said) > MOST_SIGNS:
            self.fault(column, CellFault.TOO_LONG, str(MOST_SIGNS))
            return ""
        said = clean(unguarded(said.strip()))
        longest = longest or _LONGEST.get(column, _NAME_LONGEST)
        if len(said) > longest:
            self.fault(column, CellFault.TOO_LONG, str(longest))
            return ""
        if not is_readable(said):
            self.fault(column, CellFault.UNREADABLE)
            return ""
        return said

    def name(self, column: str) -> str:
        said = self.text(column)
        if not said and not any(fault.column == column for fault in self.faults):
            self.fault(column, CellFault.MISSING)
        elif said and not folded(said):
            self.fault(column, CellFault.UNREADABLE, said)
        return said

    def key(self) -> UUID | None:
        said = self.text(Column.KEY)
        if not said:
            return None
        try:
            return UUID(said)
        except ValueError:
            self.fault(Column.KEY, CellFault.NOT_A_KEY, said)
            return None

    def day(self, column: str) -> date | None:
        cell = self.cell(column)
        if isinstance(cell, str):
            cell = self.text(column)
        if cell == "":
            return None
        try:
            return read_day(cell, today=self.today, day_zero=self.day_zero, order=self.order)
        except DayRefused as refused:
            self.fault(column, refused.fault, str(cell))
        except TwoDays as two:
            self.two_ways.append(TwoWays(self.number, str(column), str(cell), two.day_first, two.month_first))
        return None

    def email(self, column: str) -> str:
        said = self.text(column, _LONGEST[Column.EMAIL])
        if said and not _EMAIL.match(said):
            self.fault(column, CellFault.NOT_AN_EMAIL, said)
        return said

    def phone(self, column: str) -> str:
        said = self.text(column, _PHONE_LONGEST)
        digits = number_of(said).lstrip("+")
        if said and not (_PHONE.match(said) and LEAST_DIGITS <= len(digits) <= MOST_DIGITS):
            self.fault(column, CellFault.NOT_A_NUMBER, said)
        return said

    def country(self) -> str:
        said = self.text(Column.COUNTRY).upper()
        if said and not re.fullmatch(r"[A-Z]{2}", said):
            self.fault(Column.COUNTRY, CellFault.NOT_A_COUNTRY, said)
        return said

    def groups(self) -> Iterator[str]:
        yield from self.several(Column.GROUPS, _GROUP_LONGEST)

    def several(self, column: str, longest: int) -> Iterator[str]:
        """The parts of a cell that lists several: by lines or semicolons, else by commas; each once."""
        said = str(self.cell(column))
        parts = re.split(r"[;\n]", said) if re.search(r"[;\n]", said.strip()) else said.split(",")
        self.text(column, MOST_SIGNS)
        seen = set()
        for part in parts:
            one = clean(unguarded(part.strip()))
            if len(one) > longest:
                self.fault(column, CellFault.TOO_LONG, str(longest))
            elif folded(one) and folded(one) not in seen:
                seen.add(folded(one))
                yield one

    def guardians(self) -> Iterator[Guardian]:
        for number in self.headings.numbers(guardian_columns):
            name_column, phone_column, email_column = guardian_columns(number)
            name = self.text(name_column, _NAME_LONGEST)
            phone, email = self.phone(phone_column), self.email(email_column)
            given, family = parted_name(name)
            if (phone or email) and not name:
                self.fault(name_column, CellFault.NAME_MISSING, phone or email)
            elif name and not folded(name):
                self.fault(name_column, CellFault.UNREADABLE, name)
            elif name and max(len(given), len(family)) > _LONGEST[Column.GIVEN]:
                self.fault(name_column, CellFault.TOO_LONG, str(_LONGEST[Column.GIVEN]))
            elif name:
                yield Guardian(given, family, phone, email, number)

    def rings(self, guardians: tuple[Guardian, ...]) -> Iterator[Ring]:
        """Whom to ring; a number without a name is the first guardian's."""
        for number in self.headings.numbers(ring_columns):
            name_column, phone_column = ring_columns(number)
            said, phone = self.text(name_column, _NAME_LONGEST + _RELATION_LONGEST), self.phone(phone_column)
            found = _RELATION.match(said)
            name, relation = (found["name"], found["relation"].strip()) if found else (said, "")
            name = name or (guardians[0].name if guardians and phone else "")
            if phone and not folded(name):
                self.fault(name_column, CellFault.NAME_MISSING, phone)
            elif name and not phone:
                self.fault(phone_column, CellFault.MISSING, name)
            elif len(name) > _NAME_LONGEST or len(relation) > _RELATION_LONGEST:
                self.fault(name_column, CellFault.TOO_LONG, str(_NAME_LONGEST))
            elif phone:
                yield Ring(name, relation, phone)
