"""Typed reading of a JSON document that notes every fault with its path instead of stopping at the first."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any, TypeVar

from sessions.core.planner.local_time import read_instant
from sessions.core.planner.problem import Kind, Span

T = TypeVar("T")
LARGEST = 10**12
_PLAIN_KEY = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


@dataclass(frozen=True)
class Fault:
    path: str
    text: str

    def __str__(self) -> str:
        return f"{self.path}: {self.text}"


class ProblemFaults(Exception):
    """The document is no valid problem; `faults` holds everything that is wrong with it."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults


def below(path: str, key: str) -> str:
    """The path of a field of the object at `path`."""
    name = key if _PLAIN_KEY.fullmatch(key) else ascii(key)
    return f"{path}.{name}" if path else name


def kind_of_value(value: object) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true or false"
    names = {dict: "an object", list: "a list", str: "a text", int: "a whole number"}
    return names.get(type(value), "a decimal")


@dataclass
class Reader:
    """Reads values of one document. Each method answers None where it noted a fault."""

    faults: list[Fault] = field(default_factory=list)

    def fault(self, path: str, text: str) -> None:
        self.faults.append(Fault(path, text))

    def fields(
        self, value: object, path: str, required: Collection[str], optional: Collection[str] = ()
    ) -> dict[str, Any] | None:
        """The object at `path`; notes fields that are missing or unknown."""
        if not isinstance(value, dict):
            self.fault(path or "$", f"an object is needed here, not {kind_of_value(value)}")
            return None
        for key in value:
            if key not in required and key not in optional:
                self.fault(below(path, key), "there is no such field")
        for key in required:
            if key not in value:
                self.fault(below(path, key), "this field is missing")
        return value

    def rows(self, value: object, path: str) -> list[Any]:
        if isinstance(value, list):
            return value
        self.fault(path, f"a list is needed here, not {kind_of_value(value)}")
        return []

    def text(self, value: object, path: str) -> str | None:
        if isinstance(value, str):
            return value
        self.fault(path, f"a text is needed here, not {kind_of_value(value)}")
        return None

    def whole(self, value: object, path: str, least: int = 0, most: int = LARGEST) -> int | None:
        if isinstance(value, bool) or not isinstance(value, int):
            self.fault(path, f"a whole number is needed here, not {kind_of_value(value)}")
        elif not least <= value <= most:
            self.fault(path, f"the number must be {least} or more" if value < least else f"the number is above {most}")
        else:
            return value
        return None

    def number(self, value: object, path: str, most: int = LARGEST) -> Fraction | None:
        """A number of 0 or more, decimals allowed and kept exactly as they are written."""
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            self.fault(path, f"a number is needed here, not {kind_of_value(value)}")
            return None
        exact = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
        if not exact.is_finite() or exact.adjusted() < -1000:
            self.fault(path, "this number cannot be read")
        elif not 0 <= exact <= most:
            self.fault(path, "the number must be 0 or more" if exact < 0 else f"the number is above {most}")
        else:
            return Fraction(exact)
        return None

    def instant(self, value: object, path: str) -> int | None:
        text = self.text(value, path)
        if text is None:
            return None
        try:
            return read_instant(text)
        except (ValueError, OverflowError):
            self.fault(path, "an instant is written like 2027-03-01T17:00+00:00: to the minute, with its offset")
            return None

    def kind(self, value: object, path: str) -> Kind | None:
        text = self.text(value, path)
        if text is None or text in set(Kind):
            return None if text is None else Kind(text)
        self.fault(path, f"there is no kind {text!a}; kinds are {', '.join(Kind)}")
        return None

    def span(self, value: object, path: str) -> Span | None:
        row = self.fields(value, path, ("start", "end"))
        if row is None:
            return None
        start = self.instant(row["start"], below(path, "start")) if "start" in row else None
        end = self.instant(row["end"], below(path, "end")) if "end" in row else None
        if start is None or end is None:
            return None
        if end <= start:
            self.fault(below(path, "end"), "the end is not after the start")
            return None
        return Span(start, end)

    def each(self, value: object, path: str, read: Callable[[Any, str], T | None]) -> tuple[T, ...]:
        found = (read(row, f"{path}[{index}]") for index, row in enumerate(self.rows(value, path)))
        return tuple(row for row in found if row is not None)

    def reference(self, value: object, path: str, known: Collection[str], noun: str) -> str | None:
        name = self.text(value, path)
        if name is None or name in known:
            return name
        self.fault(path, f"no {noun} has the id {name!a}")
        return None

    def references(self, value: object, path: str, known: Collection[str], noun: str) -> tuple[str, ...]:
        """A list of ids, each of a known thing and none twice."""
        found: list[str] = []
        for index, row in enumerate(self.rows(value, path)):
            name = self.reference(row, f"{path}[{index}]", known, noun)
            if name is None:
                continue
            if name in found:
                self.fault(f"{path}[{index}]", f"the id {name!a} stands here twice")
            else:
                found.append(name)
        return tuple(found)

    def not_empty(self, value: object, path: str) -> None:
        if value == []:
            self.fault(path, "the list must not be empty")


def ids_of(rows: object) -> set[str]:
    """All ids that a list of objects gives, whatever else is wrong with them."""
    listed = rows if isinstance(rows, list) else []
    return {row["id"] for row in listed if isinstance(row, Mapping) and isinstance(row.get("id"), str)}
