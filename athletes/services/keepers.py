"""The registry of keepers: for every table with rows about people, when its rows are over and how they go.

A table that has no keeper says why it needs none (`goes_with`, `stays`); a test fails for one that does neither.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Model, Q, QuerySet

from athletes.core import keeping
from athletes.core.permissions.facts import Purpose
from athletes.core.permissions.keeping import NOT_HELD
from athletes.models import Club, ClubPeriod, Hold, Person
from athletes.services.closings import without_notes


@dataclass(frozen=True)
class Night:
    """What one night's run goes by: the club's day, its own periods, whose rows are held."""

    club: Club
    day: date
    periods: dict[str, tuple[int, bool]]
    held: frozenset[UUID]

    def before(self, kind: str) -> date:
        """What is of a day before this one is over."""
        days, is_shown = self.periods.get(kind, (None, False))
        found = keeping.over_before(Purpose(kind), today=self.day, club_days=days, reason_shown=is_shown)
        assert found is not None, f"{kind} has no period"
        return found

    def instant(self, kind: str) -> datetime:
        """The club's midnight with which that day begins."""
        return datetime.combine(self.before(kind), time.min, ZoneInfo(self.club.timezone))

    @property
    def instant_now(self) -> datetime:
        """The club's midnight with which the night's day begins."""
        return datetime.combine(self.day, time.min, ZoneInfo(self.club.timezone))

    @property
    def stopped_before(self) -> date:
        return keeping.stopped_before(today=self.day)


Ids = Sequence[Any]


@dataclass(frozen=True)
class Keeper:
    """One table, or the part of it that is of one kind.

    `over` is the condition under which a row is over; `whose` leads to the person whose row it is (none where it is
    nobody's alone); `part` is the part of the table; `remove` takes rows away in another way than deleting them, and
    `held` says which rows stay for a hold where `whose` cannot.
    """

    name: str
    kind: str
    model: type[Model]
    over: Callable[[Night], Q]
    whose: str = ""
    part: Q = field(default_factory=Q)
    club: str = "club"
    remove: Callable[[UUID, Ids], None] | None = None
    held: Callable[[Night], Q] | None = None

    def rows(self, club_id: UUID) -> QuerySet[Model]:
        """All rows of the part, of a club."""
        return self.model._base_manager.filter(self.part, **{self.club: club_id})

    def due(self, night: Night) -> QuerySet[Model]:
        """The rows whose time is up, but those that are held; oldest ids in no order."""
        rows = self.rows(night.club.pk).filter(self.over(night))
        if self.kind in NOT_HELD or not night.held:
            return rows
        if self.held is not None:
            return rows.exclude(self.held(night))
        return rows.exclude(**{f"{self.whose}__in": night.held}) if self.whose else rows

    def take_away(self, club_id: UUID, ids: Ids) -> None:
        """Remove these rows; in the caller's transaction, which notes them in the ledger afterwards."""
        with without_notes():
            if self.remove is not None:
                self.remove(club_id, ids)
            else:
                self.rows(club_id).filter(pk__in=ids).delete()


_keepers: dict[str, Keeper] = {}
_record_parts: list[tuple[type[Model], str]] = []
_without: dict[type[Model], str] = {}
_before_counting: list[Callable[[Night], None]] = []


def register(*keepers: Keeper) -> None:
    """Make keepers known, in the order in which a night goes through them."""
    for keeper in keepers:
        _keepers[keeper.name] = keeper


def all_keepers() -> Iterator[Keeper]:
    yield from _keepers.values()


def keeper_named(name: str) -> Keeper | None:
    return _keepers.get(name)


def part_of_record(*parts: tuple[type[Model], str]) -> None:
    """Tables whose rows go with a person's record, each with the field that names the person."""
    _record_parts.extend(parts)


def record_parts() -> Sequence[tuple[type[Model], str]]:
    return tuple(_record_parts)


def needs_no_keeper(model: type[Model], why: str) -> None:
    """A table whose rows go with others', or that stay; and why."""
    _without[model] = why


def tables_without() -> dict[type[Model], str]:
    return dict(_without)


def before_counting(work: Callable[[Night], None]) -> None:
    """Work that a night does before it counts: numbers of closed months, what permissions ended."""
    _before_counting.append(work)


def prepare(night: Night) -> None:
    for work in _before_counting:
        work(night)


def tables_known() -> set[type[Model]]:
    """Every table that has a keeper, goes with the record, or says why it needs none."""
    return {keeper.model for keeper in all_keepers()} | {model for model, _ in _record_parts} | set(_without)


def night_of(club: Club, day: date) -> Night:
    """What a run on `day` goes by; holds and periods as they are now."""
    periods = ClubPeriod.objects.filter(club=club).values_list("kind", "days", "reason_shown")
    return Night(
        club=club,
        day=day,
        periods={kind: (days, is_shown) for kind, days, is_shown in periods},
        held=frozenset(Hold.objects.filter(club=club, lifted_on=None).values_list("athlete_id", flat=True)),
    )


def people_of(club_id: UUID) -> Collection[UUID]:
    """Everybody of a club: the night's door to rows that are seen by person."""
    return list(Person.objects.filter(club=club_id).values_list("pk", flat=True))
