"""What can be wrong with a roster file: the whole file, or one cell of it."""

from dataclasses import dataclass
from enum import StrEnum


class FileFault(StrEnum):
    """Why a whole file cannot be read."""

    EMPTY = "empty"
    TOO_LARGE = "too_large"
    TOO_MANY_ROWS = "too_many_rows"
    TOO_MANY_COLUMNS = "too_many_columns"
    OLD_WORKBOOK = "old_workbook"
    BROKEN = "broken"
    UNSAFE = "unsafe"
    NO_HEADINGS = "no_headings"
    DOUBLE_HEADING = "double_heading"


class CellFault(StrEnum):
    """Why one cell cannot be taken."""

    MISSING = "missing"
    TOO_LONG = "too_long"
    UNREADABLE = "unreadable"
    NOT_A_DAY = "not_a_day"
    DAY_TO_COME = "day_to_come"
    LONG_AGO = "long_ago"
    NOT_A_NUMBER = "not_a_number"
    NOT_AN_EMAIL = "not_an_email"
    NOT_A_COUNTRY = "not_a_country"
    NAME_MISSING = "name_missing"
    NO_NUMBER_FOR = "no_number_for"
    NOT_A_KEY = "not_a_key"
    KEY_TWICE = "key_twice"
    SAYS_OTHERWISE = "says_otherwise"


class FileRefused(Exception):
    """The file cannot be read as a roster; nothing of it was taken. `said` is what was found there."""

    def __init__(self, fault: FileFault, said: str = "") -> None:
        super().__init__(fault.value)
        self.fault, self.said = fault, said


@dataclass(frozen=True)
class Fault:
    """One cell that cannot be taken: its row as the spreadsheet counts, its column's heading, and what stands there."""

    row: int
    column: str
    why: CellFault
    said: str = ""
