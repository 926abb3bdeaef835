"""Guardians of a file: who is here already, and which lines name the same one."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from uuid import UUID

from athletes.core.roster_file.columns import guardian_columns
from athletes.core.roster_file.faults import CellFault, Fault
from athletes.core.roster_file.here import KnownGuardian
from athletes.core.roster_file.lines import Guardian, Line
from athletes.core.roster_file.names import folded, number_of

Key = tuple[str, ...]


class Families:
    """Two mentions are one guardian only where the name and the e-mail, or the name and the number, are the same: two
    of one name without either are two people, for a guardian must never be shown another family's child."""

    def __init__(self, adults: Iterable[KnownGuardian], lines: Iterable[Line]) -> None:
        self._known: dict[Key, set[UUID]] = defaultdict(set)
        self._by_id: dict[UUID, KnownGuardian] = {}
        for one in adults:
            self._by_id[one.id] = one
            for key in _keys(one):
                self._known[key].add(one.id)
        self._head: dict[Key, Key] = {}
        for line in lines:
            for guardian in line.guardians:
                self._join([*_keys(guardian)])
        self._said: dict[Key, tuple[int, Guardian]] = {}

    def known(self, guardian: Guardian) -> KnownGuardian | None:
        """The one person here who is this guardian; None where nobody is, or several could be."""
        found = {one for key in _keys(guardian) for one in self._known.get(key, ())}
        return self._by_id[next(iter(found))] if len(found) == 1 else None

    def key(self, line: Line, place: int) -> Key:
        """What a new guardian shares with the same one of other lines; without number and e-mail nobody shares it."""
        guardian = line.guardians[place]
        keys = [*_keys(guardian)]
        return self._top(keys[0]) if keys else (_name(guardian), "row", str(line.row), str(place))

    def contradictions(self, line: Line) -> Iterator[Fault]:
        """Faults where an earlier line gives the same guardian another number or e-mail."""
        for place, guardian in enumerate(line.guardians):
            found = self.known(guardian)
            key = (str(found.id),) if found else self.key(line, place)
            row, before = self._said.setdefault(key, (line.row, guardian))
            _name_column, phone, email = guardian_columns(guardian.number)
            for column, one, other in (
                (phone, number_of(before.phone), number_of(guardian.phone)),
                (email, before.email.casefold(), guardian.email.casefold()),
            ):
                if one and other and one != other:
                    yield Fault(line.row, column, CellFault.SAYS_OTHERWISE, str(row))

    def _join(self, keys: list[Key]) -> None:
        for key in keys:
            self._head.setdefault(key, key)
        for key in keys[1:]:
            self._head[self._top(key)] = self._top(keys[0])

    def _top(self, key: Key) -> Key:
        while self._head.get(key, key) != key:
            key = self._head[key]
        return key


def _name(guardian: Guardian | KnownGuardian) -> str:
    return " ".join(sorted(folded(guardian.name).split()))


def _keys(guardian: Guardian | KnownGuardian) -> Iterator[Key]:
    if guardian.phone:
        yield (_name(guardian), "phone", number_of(guardian.phone))
    if guardian.email:
        yield (_name(guardian), "email", guardian.email.casefold())
