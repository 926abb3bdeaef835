"""What a roster file would change: each line against who is here, without changing anything."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from uuid import UUID

from athletes.core.roster_file.columns import Column
from athletes.core.roster_file.doubles import Names, Who, Why, who_is
from athletes.core.roster_file.families import Families
from athletes.core.roster_file.faults import CellFault, Fault
from athletes.core.roster_file.here import Here, Known, KnownRing, same_address, same_name, same_number
from athletes.core.roster_file.lines import Line, Ring
from athletes.core.roster_file.names import folded

TOLD_EVERY = 100


class Change(StrEnum):
    """What of an athlete a line says otherwise than the club has it."""

    GIVEN = "given"
    FAMILY = "family"
    BORN = "born"
    SQUAD = "squad"
    GROUPS = "groups"
    EMAIL = "email"
    PHONE = "phone"
    GUARDIAN = "guardian"
    GUARDIAN_PHONE = "guardian_phone"
    GUARDIAN_EMAIL = "guardian_email"
    RING = "ring"
    RING_PHONE = "ring_phone"
    RING_RELATION = "ring_relation"
    COLLECT = "collect"
    SINCE = "since"
    COUNTRY = "country"
    MEMBER = "member"
    JOIN = "join"


@dataclass(frozen=True)
class Difference:
    """One thing that a line says otherwise: what is here (empty: nothing) and what the file says; `place` counts
    guardians and numbers of the line from 0."""

    what: Change
    here: str
    file: str
    place: int = 0

    @property
    def replaces(self) -> bool:
        """Whether something that is here would go."""
        return bool(self.here)


@dataclass(frozen=True)
class Outcome:
    """What a line would do to one athlete: `known` None adds somebody."""

    known: Known | None
    differences: tuple[Difference, ...] = ()

    @property
    def is_conflict(self) -> bool:
        return any(one.replaces for one in self.differences)

    @property
    def is_back(self) -> bool:
        """Whether somebody who left would be a member again."""
        return any(one.what is Change.MEMBER for one in self.differences)


@dataclass(frozen=True)
class Examined:
    """A line with who it is; where that is asked, one outcome for each candidate and none that is settled."""

    line: Line
    who: Who
    outcomes: tuple[Outcome, ...] = ()

    @property
    def is_asked(self) -> bool:
        return self.who.why is not None


@dataclass
class Comparison:
    """All lines, in the order of the file, faults that only comparing finds, and names that are new to the club."""

    examined: list[Examined] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    new_squads: tuple[str, ...] = ()
    new_groups: tuple[str, ...] = ()


def compare(
    lines: Sequence[Line],
    here: Here,
    *,
    families: Families,
    on_progress: Callable[[int, int], None] = lambda done, total: None,
) -> Comparison:
    """Compare the lines with what is here. Nothing is guessed: who could be somebody else is asked about."""
    found = Comparison()
    by_id = {one.id: one for one in here.athletes}
    names, before = Names(here.athletes), Names[Line]()
    taken: dict[UUID, int] = {line.key: line.row for line in lines if line.key is not None}
    for count, line in enumerate(lines):
        if count % TOLD_EVERY == 0:
            on_progress(count, len(lines))
        if line.key is not None and line.key not in by_id:
            found.faults.append(Fault(line.row, Column.KEY, CellFault.NOT_A_KEY, str(line.key)))
            continue
        who = Who(known=by_id[line.key]) if line.key is not None else who_is(line, names, before)
        if who.known is not None and (row := taken.setdefault(who.known.id, line.row)) != line.row:
            who = Who(candidates=(who.known,), rows=(row,), why=Why.SAME_PERSON)
        before.add(line)
        found.faults += families.contradictions(line)
        found.faults += _without_number(line, who)
        found.examined.append(_examined(line, who, families))
    found.new_squads = _new_names((line.squad for line in lines), here.squads)
    found.new_groups = _new_names((name for line in lines for name in line.groups), here.groups)
    return found


def _new_names(said: Iterator[str], known: Sequence[str]) -> tuple[str, ...]:
    here = {folded(name) for name in known}
    found: dict[str, str] = {}
    for name in said:
        if name and folded(name) not in here:
            found.setdefault(folded(name), name)
    return tuple(found.values())


def _examined(line: Line, who: Who, families: Families) -> Examined:
    if who.why is None:
        return Examined(line, who, (outcome_of(line, who.known, families),))
    return Examined(line, who, tuple(outcome_of(line, one, families) for one in who.candidates))


def outcome_of(line: Line, known: Known | None, families: Families) -> Outcome:
    """What the line would do to this athlete, or to somebody new."""
    if known is None:
        return Outcome(None)
    return Outcome(known, tuple(_differences(line, known, families)))


def first_day_after(line: Line, day: date | None) -> date | None:
    """From when a line makes somebody a member again: its own day, where that comes after `day`; None: from today."""
    return line.since if line.since and day and line.since > day else None


def _differences(line: Line, known: Known, families: Families) -> Iterator[Difference]:
    for what, here, file in (
        (Change.GIVEN, known.given, line.given if line.given.casefold() != known.given.casefold() else ""),
        (Change.FAMILY, known.family, line.family if line.family.casefold() != known.family.casefold() else ""),
        (Change.BORN, str(known.born or ""), str(line.born or "")),
        (Change.COUNTRY, known.country, line.country),
        (Change.SINCE, str(known.since or ""), str(line.since or "") if _is_full(known) else ""),
    ):
        if file and file != here:
            yield Difference(what, here, file)
    if not known.is_member:
        yield Difference(Change.MEMBER, "", str(first_day_after(line, known.until) or ""))
    if line.email and not same_address(line.email, known.email):
        yield Difference(Change.EMAIL, known.email, line.email)
    if line.phone and not same_number(line.phone, known.phone):
        yield Difference(Change.PHONE, known.phone, line.phone)
    if line.squad and folded(line.squad) != folded(known.squad):
        yield Difference(Change.SQUAD, known.squad, line.squad)
    if line.groups and {folded(one) for one in line.groups} != {folded(one) for one in known.groups}:
        left = [one for one in known.groups if folded(one) not in {folded(name) for name in line.groups}]
        yield Difference(Change.GROUPS, "; ".join(left), "; ".join(line.groups))
    yield from _of_guardians(line, known, families)
    yield from _of_rings(line, known)


def _is_full(known: Known) -> bool:
    """Whether somebody is a member, and not on trial: a trial stays one until an admin says that it becomes more."""
    return known.is_member and not known.is_trial


def _of_guardians(line: Line, known: Known, families: Families) -> Iterator[Difference]:
    """A guardian whom the file does not name stays; authority is no matter of a file."""
    for place, guardian in enumerate(line.guardians):
        linked = next((one for one in known.guardians if same_name(one.name, guardian.name)), None)
        found = linked or families.known(guardian)
        if linked is None:
            yield Difference(Change.GUARDIAN, "", guardian.name, place)
        if found and guardian.phone and not same_number(guardian.phone, found.phone):
            yield Difference(Change.GUARDIAN_PHONE, found.phone, guardian.phone, place)
        if found and guardian.email and not same_address(guardian.email, found.email):
            yield Difference(Change.GUARDIAN_EMAIL, found.email, guardian.email, place)


def ring_here(ring: Ring, known: Known) -> KnownRing | None:
    """The number that is here for the same person: of that name and number, else of that name, else of that number."""
    named = [one for one in known.rings if same_name(one.name, ring.name)]
    both = [one for one in named if same_number(one.phone, ring.phone)]
    return next(iter(both or named), None)


def _of_rings(line: Line, known: Known) -> Iterator[Difference]:
    for place, ring in enumerate(line.rings):
        found = ring_here(ring, known)
        if found is None:
            yield Difference(Change.RING, "", f"{ring.name}, {ring.phone}", place)
            continue
        if not same_number(ring.phone, found.phone):
            yield Difference(Change.RING_PHONE, found.phone, ring.phone, place)
        if ring.relation and folded(ring.relation) != folded(found.relation):
            yield Difference(Change.RING_RELATION, found.relation, ring.relation, place)
    if line.collect:
        now = [one.name for one in known.rings if one.may_collect]
        more = [name for name in line.collect if not any(same_name(name, one) for one in now)]
        gone = [one for one in now if not any(same_name(one, name) for name in line.collect)]
        if more or gone:
            yield Difference(Change.COLLECT, "; ".join(gone), "; ".join(line.collect))


def _without_number(line: Line, who: Who) -> Iterator[Fault]:
    """Whoever may collect a child can be rung: by a number of the line, of its guardians, or one that is here."""
    here = [one.name for known in ([who.known] if who.known else who.candidates) for one in known.rings]
    known_names = [one.name for one in line.rings] + [one.name for one in line.guardians if one.phone] + here
    for name in line.collect:
        if not any(same_name(name, one) for one in known_names):
            yield Fault(line.row, Column.COLLECT, CellFault.NO_NUMBER_FOR, name)


def with_rung_guardians(line: Line) -> Line:
    """The line with its guardians' numbers as numbers to ring, where it names none."""
    if line.rings:
        return line
    return replace(line, rings=tuple(Ring(one.name, "", one.phone) for one in line.guardians if one.phone))
