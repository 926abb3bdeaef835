"""Who a line of a file is: somebody who is here, surely or perhaps, or somebody new."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import islice
from typing import Generic, Protocol, TypeVar

from athletes.core.roster_file.here import Known
from athletes.core.roster_file.lines import Line
from athletes.core.roster_file.names import are_near, joined

MOST_NAMESAKES = 300
"""People of half the same name, or of one birth date, who are looked at for a near name (our own choice): it bounds the
work where a file has thousands of one name and no birth dates."""


class Why(StrEnum):
    """Why it is asked who somebody is."""

    TWO_ALIKE = "two_alike"
    OTHER_BIRTH_DATE = "other_birth_date"
    BIRTH_DATE_UNKNOWN = "birth_date_unknown"
    NEAR_NAME = "near_name"
    TWICE_IN_FILE = "twice_in_file"
    NEAR_IN_FILE = "near_in_file"
    SAME_PERSON = "same_person"


class Named(Protocol):
    @property
    def given(self) -> str: ...
    @property
    def family(self) -> str: ...
    @property
    def born(self) -> date | None: ...


One = TypeVar("One", bound=Named)
_Name = tuple[str, str]


class Names(Generic[One]):
    """People found by name: the same, or nearly the same; each look costs about as much as there are namesakes."""

    def __init__(self, people: Iterable[One] = ()) -> None:
        self._same: dict[_Name, list[One]] = defaultdict(list)
        self._born: dict[date, list[tuple[_Name, One]]] = defaultdict(list)
        self._part: dict[tuple[str, bool], list[tuple[_Name, One]]] = defaultdict(list)
        self._unborn: dict[tuple[str, bool], list[tuple[_Name, One]]] = defaultdict(list)
        for one in people:
            self.add(one)

    def add(self, one: One) -> None:
        name = _name(one)
        self._same[name].append(one)
        if one.born is not None:
            self._born[one.born].append((name, one))
        for part in _parts(name):
            self._part[part].append((name, one))
            if one.born is None:
                self._unborn[part].append((name, one))

    def same(self, line: Named) -> list[One]:
        return list(self._same.get(_name(line), ()))

    def near(self, line: Named) -> list[One]:
        """Names nearly the same, where the birth date is the same, or one is unknown and half of the name the same."""
        mine = _name(line)
        found: dict[int, One] = {}
        for name, one in islice(self._candidates(line, mine), MOST_NAMESAKES):
            if name != mine and id(one) not in found and are_near(*mine, *name):
                found[id(one)] = one
        return list(found.values())

    def _candidates(self, line: Named, mine: _Name) -> Iterator[tuple[_Name, One]]:
        if line.born is not None:
            yield from self._born.get(line.born, ())
        looked_in = self._part if line.born is None else self._unborn
        for part in (*_parts(mine), (mine[0], False), (mine[1], True)):
            yield from looked_in.get(part, ())


def _name(one: Named) -> _Name:
    return joined(one.given), joined(one.family)


def _parts(name: _Name) -> tuple[tuple[str, bool], tuple[str, bool]]:
    return (name[0], True), (name[1], False)


@dataclass(frozen=True)
class Who:
    """Who a line is: `known` surely, or one of `candidates` perhaps, and why that is asked; `rows` of the file that may
    be the same person. None of them: somebody new."""

    known: Known | None = None
    candidates: tuple[Known, ...] = ()
    rows: tuple[int, ...] = ()
    why: Why | None = None


def who_is(line: Line, here: Names[Known], before: Names[Line]) -> Who:
    """Who the line is among those here, and among the lines `before` it in the file.

    Surely somebody: the same name and the same birth date (or none in both), and nobody else alike.
    """
    alike = here.same(line)
    exact = [one for one in alike if one.born == line.born]
    if in_file := [one.row for one in before.same(line) if one.born == line.born]:
        return Who(candidates=tuple(exact), rows=tuple(in_file), why=Why.TWICE_IN_FILE)
    if len(exact) == 1:
        return Who(known=exact[0])
    if exact:
        return Who(candidates=tuple(exact), why=Why.TWO_ALIKE)
    if alike:
        is_unknown = line.born is None or any(one.born is None for one in alike)
        return Who(candidates=tuple(alike), why=Why.BIRTH_DATE_UNKNOWN if is_unknown else Why.OTHER_BIRTH_DATE)
    if near := here.near(line):
        return Who(candidates=tuple(near), why=Why.NEAR_NAME)
    if near_rows := [one.row for one in before.near(line)]:
        return Who(rows=tuple(near_rows), why=Why.NEAR_IN_FILE)
    return Who()
