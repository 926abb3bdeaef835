"""The columns of a roster, the headings that mean them, and the row in which the headings stand.

A column is named by the heading that is written out. Guardians and numbers to ring stand in numbered columns, as many
as a file has.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from athletes.core.roster_file.faults import FileFault, FileRefused
from athletes.core.roster_file.names import folded
from athletes.core.roster_file.table import Cell, Table

LOOKED_THROUGH = 20
"""Rows from the top among which the headings are looked for: titles may stand above them (our own choice)."""


class Column(StrEnum):
    """A column; its value is the heading that is written out."""

    KEY = "Line key"
    GIVEN = "Given name"
    FAMILY = "Family name"
    BORN = "Birth date"
    SQUAD = "Squad"
    GROUPS = "Event groups"
    EMAIL = "E-mail"
    PHONE = "Phone"
    COLLECT = "Who may collect"
    SINCE = "Member since"
    COUNTRY = "Home country"


def guardian_columns(number: int) -> tuple[str, str, str]:
    """A guardian's name, phone and e-mail; the first is number 1."""
    return f"Guardian {number}", f"Guardian {number} phone", f"Guardian {number} e-mail"


def ring_columns(number: int) -> tuple[str, str]:
    """Who answers, and the number to ring; the first is number 1."""
    return f"Who answers {number}", f"Number to ring {number}"


_WORDS: dict[Column, tuple[str, ...]] = {
    Column.KEY: ("key",),
    Column.GIVEN: ("given names", "first name", "first names", "firstname", "forename", "forenames", "christian name"),
    Column.FAMILY: ("surname", "last name", "lastname", "second name", "familyname"),
    Column.BORN: (
        "date of birth", "dob", "d o b", "born", "born on", "birthdate", "birthday", "birth day", "birth",
    ),
    Column.SQUAD: ("squads", "age group", "team", "level"),
    Column.GROUPS: ("event group", "group", "groups", "training group", "training groups", "events", "discipline"),
    Column.EMAIL: ("email", "e mail address", "email address", "athlete email", "athlete e mail", "own email", "mail"),
    Column.PHONE: (
        "telephone", "tel", "mobile", "mobile phone", "mobile number", "phone number", "athlete phone", "cell",
        "cell phone", "own phone", "telephone number",
    ),
    Column.COLLECT: (
        "may collect", "may be collected by", "collected by", "allowed to collect", "collection", "pick up",
        "may pick up", "authorised to collect", "authorized to collect", "who may pick up",
    ),
    Column.SINCE: ("joined", "joined on", "date joined", "membership since", "since", "member from", "start date"),
    Column.COUNTRY: ("country", "country of residence", "home state", "lives in"),
}  # fmt: skip
_PEOPLE = ("guardian", "parent", "parent guardian", "parent or guardian", "carer", "contact parent")
_NAME, _PHONE, _EMAIL = (
    ("", "name", "full name"),
    ("phone", "telephone", "tel", "mobile", "phone number", "mobile phone", "mobile number", "cell", "number"),
    ("email", "e mail", "mail", "email address", "e mail address"),
)
_RING_NAME = (
    "who answers", "emergency contact", "emergency contact name", "emergency name", "contact name", "contact person",
    "in case of emergency", "ice", "ice name", "whom to ring", "contact",
)  # fmt: skip
_RING_PHONE = (
    "number to ring", "emergency number", "emergency phone", "emergency contact phone", "emergency contact number",
    "emergency telephone", "emergency tel", "emergency mobile", "contact number", "contact phone", "ice number",
    "ice phone", "ring",
)  # fmt: skip


def _first(words: str) -> tuple[str, ...]:
    """The words of the first of several: with the number behind or before, or without."""
    return f"{words} 1", f"1 {words}", words


def _of_guardian() -> dict[str, str]:
    found: dict[str, str] = {}
    for column, kinds in zip(guardian_columns(1), (_NAME, _PHONE, _EMAIL), strict=True):
        for who in _PEOPLE:
            for kind in kinds:
                said = {f"{one} {kind}".strip() for one in _first(who)} | {*_first(f"{who} {kind}".strip())}
                said |= {f"{one} s {kind}" for one in _first(who) if kind}
                found |= dict.fromkeys(said, column)
    return found


def _all_headings() -> dict[str, str]:
    found: dict[str, str] = {folded(column.value): column for column in Column}
    for single, words in _WORDS.items():
        found |= dict.fromkeys(words, single)
    found |= _of_guardian()
    for column, several in zip(ring_columns(1), (_RING_NAME, _RING_PHONE), strict=True):
        for said in several:
            found |= dict.fromkeys(_first(said), column)
    return found


HEADINGS = _all_headings()
"""What a heading may say, folded, and the column that it means; of numbered ones the first (common practice, no
source)."""

_NUMBERED = {*guardian_columns(1), *ring_columns(1)}
_NUMBER = re.compile(r"(?<!\d)[1-9]\d?(?!\d)")
_BESIDE = re.compile(r"(?<=[^\W\d_])(?=\d)|(?<=\d)(?=[^\W\d_])")


def column_of(said: str) -> str | None:
    """The column that a folded heading means: "parent 3 mobile" is "Guardian 3 phone"."""
    if (found := HEADINGS.get(said)) is not None:
        return found
    apart = _BESIDE.sub(" ", said)
    number = _NUMBER.search(apart)
    if number is None:
        return None
    found = HEADINGS.get(f"{apart[: number.start()]}1{apart[number.end() :]}")
    return found.replace("1", number[0]) if found in _NUMBERED else None


@dataclass(frozen=True)
class Headings:
    """Where each column stands (counted from 0), the rows' place below which people stand, what was not understood."""

    places: dict[str, int]
    below: int
    not_read: tuple[str, ...]

    def numbers(self, columns: Callable[[int], tuple[str, ...]]) -> list[int]:
        """Which numbers of numbered columns are there."""
        return [number for number in range(1, 100) if not self.places.keys().isdisjoint(columns(number))]


def find_headings(table: Table) -> Headings:
    """The row of headings: the one, among the first, that names the most columns, given and family name among them.

    A heading in two rows ("Guardian 1" above "Phone") is read as one. Raises FileRefused where no row names both
    names, or two columns mean the same.
    """
    best: Headings | None = None
    above: tuple[Cell, ...] = ()
    for place, (_, cells) in enumerate(table.rows[:LOOKED_THROUGH]):
        found = _matched(cells, _carried(above), place)
        if found and (best is None or len(found.places) > len(best.places)):
            best = found
        above = cells
    if best is None:
        raise FileRefused(FileFault.NO_HEADINGS)
    return best


def _matched(cells: tuple[Cell, ...], above: list[str], place: int) -> Headings | None:
    places: dict[str, int] = {}
    twice, not_read = "", []
    for number, cell in enumerate(cells):
        said = folded(str(cell))
        over = above[number] if number < len(above) else ""
        column = column_of(f"{over} {said}") if over and said else None
        column = column or column_of(said)
        if column in places:
            twice = str(cell)
        elif column is not None:
            places[column] = number
        elif said:
            not_read.append(str(cell).strip()[:60])
    if not {Column.GIVEN, Column.FAMILY} <= places.keys():
        return None
    if twice:
        raise FileRefused(FileFault.DOUBLE_HEADING, twice[:60])
    return Headings(places, place + 1, tuple(not_read))


def _carried(cells: tuple[Cell, ...]) -> list[str]:
    """A row of headings over headings: a merged cell is filled at its left alone and goes on to the next."""
    found, last = [], ""
    for cell in cells:
        last = folded(str(cell)) or last
        found.append(last)
    return found + [last] * 20
