"""An athlete's marks and bests by season, for whoever may use the record."""

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from athletes.core import marks as core
from athletes.models import Mark, Person
from athletes.viewer import Viewer


@dataclass(frozen=True)
class Marks:
    """All marks, the latest first, and the bests of each event."""

    rows: Sequence[Mark]
    bests: Sequence[core.Bests]


def marks_of(*, viewer: Viewer, athlete: Person) -> Marks:
    """The marks of an athlete whose record the viewer may use, as `athlete` from the door says; one query."""
    rows = list(Mark.objects.filter(athlete=athlete, club=viewer.club_id))
    return Marks(rows, core.bests(as_core(row) for row in rows))


def as_core(row: Mark) -> core.Mark:
    """A row as the core reckons with it."""
    return core.Mark(core.Event(row.event), row.time_ms, row.is_hand, row.wind_tenths, row.run_on)


def known_keys(*, viewer: Viewer, athlete_ids: Sequence[UUID]) -> set[tuple[object, ...]]:
    """Which marks are there already, as `mark_key` tells them; one query."""
    rows = Mark.objects.filter(club=viewer.club_id, athlete__in=athlete_ids)
    return set(rows.values_list("athlete_id", "event", "run_on", "time_ms", "is_hand"))
