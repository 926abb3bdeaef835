"""Writes the lines of a roster file as rows, and notes each row made or changed, so that it can be undone.

Never written here: a permission, an account, a role, an assignment, a check. A guardian is linked as "not yet checked",
and the authority of one who is linked already stays as it is.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Model

from athletes.core.roster_file.choosing import Options, Write
from athletes.core.roster_file.compare import Change, Difference, first_day_after, ring_here
from athletes.core.roster_file.families import Families
from athletes.core.roster_file.here import Known, same_name
from athletes.core.roster_file.lines import Line, Ring
from athletes.core.roster_file.names import folded
from athletes.models import (
    ContactNumber,
    EventGroup,
    GroupMembership,
    Guardianship,
    Membership,
    PeopleStep,
    Person,
    Squad,
    SquadMembership,
)
from athletes.services.people import bring_back, let_join
from athletes.services.rules import confirmed_first
from athletes.services.steps import Step
from athletes.viewer import Viewer, in_force

TABLES: Mapping[str, type[Model]] = {
    "squads": Squad, "groups": EventGroup, "person": Person, "member": Membership, "squad": SquadMembership,
    "group": GroupMembership, "guardian": Guardianship, "ring": ContactNumber,
}  # fmt: skip
"""In the order in which rows are made."""

_OF_PERSON = {
    Change.GIVEN: "given_name", Change.FAMILY: "family_name", Change.BORN: "birth_date", Change.EMAIL: "email",
    Change.PHONE: "phone", Change.COUNTRY: "home_country",
}  # fmt: skip
_OF_LINE = {
    Change.GIVEN: "given", Change.FAMILY: "family", Change.BORN: "born", Change.EMAIL: "email", Change.PHONE: "phone",
    Change.COUNTRY: "country",
}  # fmt: skip
AT_ONCE = 500


def write_lines(*, viewer: Viewer, writes: Sequence[Write], families: Families, options: Options) -> dict[str, Any]:
    """Write all lines, in the caller's transaction. Answers which rows were made, how rows were changed, and the step
    by which people came back or joined.

    Raises Refused before the club's rules are confirmed.
    """
    confirmed_first(viewer.club)
    rows = _Rows(viewer, families, options)
    rows.name_places(writes)
    for write in writes:
        rows.write(write)
    return rows.flush() | {"step": _memberships(viewer, writes)}


def _memberships(viewer: Viewer, writes: Sequence[Write]) -> str:
    """Who comes back and who joins after a trial does so as by hand, in one step; answers its id, if there was any."""
    step, back = Step(viewer, PeopleStep.What.MEMBER), {}
    for write in writes:
        known, whats = write.outcome.known, {one.what for one in write.differences}
        if known is not None and Change.MEMBER in whats:
            back[known.id] = first_day_after(write.line, known.until) or viewer.today
        elif known is not None and Change.JOIN in whats:
            let_join(step, known.id, first_day_after(write.line, known.since) or viewer.today)
    if back:
        bring_back(step, back)
    kept = step.keep()
    return str(kept.pk) if kept else ""


def columns_of(model: type[Model]) -> tuple[str, ...]:
    return tuple(one.attname for one in model._meta.concrete_fields)


def digest(values: Iterable[object]) -> str:
    """What a row's columns hold, in short: another one tells that somebody changed it."""
    return hashlib.sha256(json.dumps([str(value) for value in values]).encode()).hexdigest()[:16]


def column(row: Model, name: str) -> str | bool | None:
    """One column as JSON holds it."""
    value = getattr(row, name)
    return value if value is None or isinstance(value, bool) else str(value)


@dataclass
class _Rows:
    """Rows in the making: nothing is written before `flush`."""

    viewer: Viewer
    families: Families
    options: Options
    new: dict[str, list[Model]] = field(default_factory=lambda: defaultdict(list))
    changed: dict[tuple[str, UUID], dict[str, Any]] = field(default_factory=lambda: defaultdict(dict))
    squads: dict[str, UUID] = field(default_factory=dict)
    groups: dict[str, UUID] = field(default_factory=dict)
    guardians: dict[tuple[str, ...], Person] = field(default_factory=dict)
    held: dict[str, dict[UUID, list[Any]]] = field(default_factory=dict)

    def name_places(self, writes: Sequence[Write]) -> None:
        """Find squads and groups by name, make those that are new, and read where the people who change are now."""
        self.squads = {folded(one.name): one.pk for one in Squad.objects.filter(club=self.viewer.club_id)}
        self.groups = {folded(one.name): one.pk for one in EventGroup.objects.filter(club=self.viewer.club_id)}
        for write in writes:
            for name in filter(None, [write.line.squad]):
                if folded(name) not in self.squads:
                    self.squads[folded(name)] = self.add("squads", Squad(name=name)).pk
            for name in write.line.groups:
                if folded(name) not in self.groups:
                    discipline = self.options.groups[folded(name)].partition(":")[2]
                    group = EventGroup(name=name, discipline=discipline)
                    self.groups[folded(name)] = self.add("groups", group).pk
        known = [write.outcome.known.id for write in writes if write.outcome.known]
        now = in_force(self.viewer.today)
        self.held = {
            "member": _by_athlete(Membership.objects.filter(now, athlete__in=known)),
            "squad": _by_athlete(SquadMembership.objects.filter(now, athlete__in=known)),
            "group": _by_athlete(GroupMembership.objects.filter(now, athlete__in=known)),
            "guardian": _by_athlete(Guardianship.objects.filter(first_day=self.viewer.today, athlete__in=known)),
        }

    def add(self, table: str, row: Model) -> Model:
        row.club_id = self.viewer.club_id  # type: ignore[attr-defined]
        self.new[table].append(row)
        return row

    def change(self, table: str, pk: UUID, **values: object) -> None:
        self.changed[table, pk].update(values)

    def write(self, write: Write) -> None:
        if write.outcome.known is None:
            self.add_athlete(write.line)
            return
        known = write.outcome.known
        wanted = {one.what for one in write.differences}
        for one in write.differences:
            self.settle(write.line, known, one)
        if {Change.RING, Change.COLLECT} & wanted:
            self.ring(write.line, known, wanted)

    def add_athlete(self, line: Line) -> None:
        athlete = self.add("person", Person(
            given_name=line.given, family_name=line.family, birth_date=line.born, email=line.email, phone=line.phone,
            home_country=line.country,
        ))  # fmt: skip
        self.join(athlete.pk, line.since or self.viewer.today)
        if line.squad:
            self.into("squad", athlete.pk, line.squad)
        for name in line.groups:
            self.into("group", athlete.pk, name)
        for place in range(len(line.guardians)):
            self.link(line, place, athlete.pk)
        self.ring(line, Known(athlete.pk, line.given, line.family), {Change.RING, Change.COLLECT})

    def join(self, athlete_id: UUID, first_day: date) -> None:
        """A member from a day on, who was shown the club's notice: an admin said so of all who join by this file."""
        shown = self.viewer.today if self.options.notice_shown else None
        self.add("member", Membership(athlete_id=athlete_id, first_day=first_day, notice_shown_on=shown))

    def settle(self, line: Line, known: Known, one: Difference) -> None:
        """One difference of somebody who is here."""
        if one.what in _OF_PERSON:
            self.change("person", known.id, **{_OF_PERSON[one.what]: getattr(line, _OF_LINE[one.what])})
        elif one.what is Change.SINCE:
            for row in self.held["member"].get(known.id, ())[-1:]:
                self.change("member", row.pk, first_day=line.since)
        elif one.what is Change.SQUAD:
            self.leave("squad", self.held["squad"].get(known.id, ()))
            self.into("squad", known.id, line.squad)
        elif one.what is Change.GROUPS:
            self.regroup(line, known)
        elif one.what is Change.GUARDIAN:
            self.link(line, one.place, known.id)
        elif one.what in (Change.GUARDIAN_PHONE, Change.GUARDIAN_EMAIL):
            self.tell_guardian(line, known, one)
        elif one.what in (Change.RING_PHONE, Change.RING_RELATION):
            ring = line.rings[one.place]
            found = ring_here(ring, known)
            if found is not None:
                name = "phone" if one.what is Change.RING_PHONE else "relation"
                self.change("ring", found.id, **{name: getattr(ring, name)})

    def into(self, table: str, athlete_id: UUID, name: str) -> None:
        """Into a squad or a group from today on."""
        today = self.viewer.today
        if table == "squad":
            row: Model = SquadMembership(athlete_id=athlete_id, squad_id=self.squads[folded(name)], first_day=today)
        else:
            row = GroupMembership(athlete_id=athlete_id, group_id=self.groups[folded(name)], first_day=today)
        self.add(table, row)

    def leave(self, table: str, rows: Iterable[Model]) -> None:
        for row in rows:
            self.change(table, row.pk, last_day=self.viewer.today - timedelta(days=1))

    def regroup(self, line: Line, known: Known) -> None:
        wanted = {self.groups[folded(name)]: name for name in line.groups}
        now = {row.group_id: row for row in self.held["group"].get(known.id, ())}
        self.leave("group", [row for pk, row in now.items() if pk not in wanted])
        for pk, name in wanted.items():
            if pk not in now:
                self.into("group", known.id, name)

    def link(self, line: Line, place: int, athlete_id: UUID) -> None:
        """Link a guardian, who is here or new, as not yet checked."""
        guardian = self.families.known(line.guardians[place])
        guardian_id = guardian.id if guardian else self.new_guardian(line, place).pk
        if guardian_id == athlete_id:
            return
        for row in self.held["guardian"].get(athlete_id, ()):
            if row.guardian_id == guardian_id:  # begun and ended today
                self.change("guardian", row.pk, last_day=None, authority=Guardianship.Authority.UNVERIFIED)
                return
        self.add("guardian", Guardianship(
            guardian_id=guardian_id, athlete_id=athlete_id, first_day=self.viewer.today,
            authority=Guardianship.Authority.UNVERIFIED,
        ))  # fmt: skip

    def new_guardian(self, line: Line, place: int) -> Person:
        """One person for all lines that name the same guardian; what one line lacks another may say."""
        said, key = line.guardians[place], self.families.key(line, place)
        if key not in self.guardians:
            person = Person(given_name=said.given, family_name=said.family)
            self.guardians[key] = person
            self.add("person", person)
        found = self.guardians[key]
        found.phone, found.email = found.phone or said.phone, found.email or said.email
        return found

    def tell_guardian(self, line: Line, known: Known, one: Difference) -> None:
        said = line.guardians[one.place]
        linked = next((each for each in known.guardians if same_name(each.name, said.name)), None)
        found = linked or self.families.known(said)
        if found is not None:
            name = "phone" if one.what is Change.GUARDIAN_PHONE else "email"
            self.change("person", found.id, **{name: getattr(said, name)})

    def ring(self, line: Line, known: Known, wanted: set[Change]) -> None:
        """New numbers to ring, and who of all may collect."""
        rings = list(line.rings) if Change.RING in wanted else []
        if Change.COLLECT in wanted:
            rings += self.numbers_of_collectors(line, known, rings)
        order = len(known.rings)
        for ring in rings:
            if ring_here(ring, known) is None:
                order += 1
                self.add("ring", ContactNumber(
                    athlete_id=known.id, name=ring.name, relation=ring.relation, phone=ring.phone, order=order,
                    may_collect=Change.COLLECT in wanted and _named(ring.name, line.collect),
                ))  # fmt: skip
        if Change.COLLECT in wanted and line.collect:
            for one in known.rings:
                if one.may_collect != _named(one.name, line.collect):
                    self.change("ring", one.id, may_collect=not one.may_collect)

    def numbers_of_collectors(self, line: Line, known: Known, rings: Sequence[Ring]) -> list[Ring]:
        """The numbers of guardians who may collect and are not among those to ring yet."""
        there = [one.name for one in known.rings] + [one.name for one in rings]
        return [
            Ring(one.name, "", one.phone)
            for one in line.guardians
            if one.phone and _named(one.name, line.collect) and not _named(one.name, there)
        ]

    def flush(self) -> dict[str, dict[str, Any]]:
        """Write everything; a bulk of rows a statement."""
        changed = [self._set(table, pk, values) for (table, pk), values in self.changed.items()]
        for table, model in TABLES.items():
            model._default_manager.bulk_create(self.new[table], batch_size=AT_ONCE)
        made = {table: {str(row.pk): _digest_of(row) for row in rows} for table, rows in self.new.items() if rows}
        return {"made": made, "changed": {one["id"]: one for one in changed}}

    def _set(self, table: str, pk: UUID, values: Mapping[str, object]) -> dict[str, Any]:
        row = TABLES[table]._default_manager.select_for_update().get(pk=pk, club=self.viewer.club_id)
        before = {name: column(row, name) for name in values}
        for name, value in values.items():
            setattr(row, name, value)
        row.save(update_fields=list(values))
        return {"id": str(pk), "table": table, "before": before, "after": {name: column(row, name) for name in values}}


def _digest_of(row: Model) -> str:
    return digest(getattr(row, name) for name in columns_of(type(row)))


def _by_athlete(rows: Iterable[Any]) -> dict[UUID, list[Any]]:
    found: dict[UUID, list[Any]] = defaultdict(list)
    for row in rows:
        found[row.athlete_id].append(row)
    return found


def _named(name: str, names: Iterable[str]) -> bool:
    return any(same_name(name, one) for one in names)
