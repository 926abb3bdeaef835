"""What differs between two plans of one week: per session what changed, from where to where."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from sessions.core.planner.problem import Placement


class Aspect(StrEnum):
    """One thing that changed about a session."""

    PLACED = "placed"
    TAKEN_OUT = "taken_out"
    DAY = "day"
    TIME = "time"
    VENUE = "venue"
    COACHES = "coaches"
    WHO = "who"


WHEN_AND_WHERE = frozenset({Aspect.PLACED, Aspect.TAKEN_OUT, Aspect.DAY, Aspect.TIME, Aspect.VENUE})


@dataclass(frozen=True, slots=True)
class Place:
    """Where a demand lies. Ids are texts; `excused` stay away by the plan, `away` could not come anyway; of both,
    `easier` come to an easier version instead."""

    starts_at: datetime
    ends_at: datetime
    venue: str
    coaches: tuple[str, ...]
    excused: frozenset[str] = frozenset()
    away: frozenset[str] = frozenset()
    easier: frozenset[str] = frozenset()
    reasons: tuple[str, ...] = ()

    @property
    def absent(self) -> frozenset[str]:
        return self.excused | self.away

    def as_document(self) -> dict[str, Any]:
        """As the planning contract writes a placed demand, without its name; `easier` where there is any."""
        more = {"easier": sorted(self.easier)} if self.easier else {}
        return {
            "start": self.starts_at.isoformat(timespec="minutes"),
            "end": self.ends_at.isoformat(timespec="minutes"),
            "venue": self.venue,
            "coaches": list(self.coaches),
            "excused": sorted(self.excused),
            "away": sorted(self.away),
            "reasons": list(self.reasons),
        } | more

    def as_placement(self, demand: str) -> Placement:
        """As the planner's rules take it."""
        minute = int(self.starts_at.timestamp()) // 60
        return Placement(demand, minute, self.venue, self.coaches, self.excused)


@dataclass(frozen=True, slots=True)
class Change:
    """One session that differs; `before` or `after` is None where it has no place."""

    demand: str
    aspects: frozenset[Aspect]
    before: Place | None
    after: Place | None

    @property
    def starts_at(self) -> datetime:
        """Where to look for it: the new place, else the old one."""
        place = self.after or self.before
        assert place is not None
        return place.starts_at


def place_of(row: Mapping[str, Any]) -> Place:
    """The place that a row of the planning contract's `placed` states."""
    return Place(
        starts_at=datetime.fromisoformat(row["start"]),
        ends_at=datetime.fromisoformat(row["end"]),
        venue=row["venue"],
        coaches=tuple(row["coaches"]),
        excused=frozenset(row["excused"]),
        away=frozenset(row["away"]),
        easier=frozenset(row.get("easier", ())),
        reasons=tuple(row["reasons"]),
    )


def places_of_plan(plan: Mapping[str, Any]) -> dict[str, Place]:
    """The places of a plan of the planning contract, by demand."""
    return {row["demand"]: place_of(row) for row in plan["placed"]}


def asked_of_plan(plan: Mapping[str, Any]) -> set[str]:
    """The demands that a plan speaks of, placed or not."""
    return {row["demand"] for row in (*plan["placed"], *plan["unplaced"])}


def changes(before: Mapping[str, Place], after: Mapping[str, Place], zone: ZoneInfo) -> list[Change]:
    """The sessions that differ, in order of time; dates are those of `zone`."""
    found = []
    for demand in {**before, **after}:
        old, new = before.get(demand), after.get(demand)
        aspects = _aspects(old, new, zone)
        if aspects:
            found.append(Change(demand, aspects, old, new))
    return sorted(found, key=lambda change: (change.starts_at, change.demand))


def mixed(before: Mapping[str, Place], after: Mapping[str, Place], chosen: Collection[str]) -> dict[str, Place]:
    """`before` with the chosen demands as in `after` (out of the week where they have no place there)."""
    kept = {demand: place for demand, place in before.items() if demand not in chosen}
    return kept | {demand: place for demand, place in after.items() if demand in chosen}


def keeping_easier(
    before: Mapping[str, Place], after: Mapping[str, Place], agreed: Mapping[str, frozenset[str]]
) -> dict[str, Place]:
    """`after` where those who stay away still come to an easier version that was agreed for them.

    What `before` says of whoever stays away there goes first; for everybody else counts what `agreed` says by demand.
    """
    found = {}
    for demand, place in after.items():
        old = before.get(demand)
        said, known = (old.easier, old.absent) if old else (frozenset(), frozenset())
        kept = (said | (agreed.get(demand, frozenset()) - known)) & place.absent
        found[demand] = replace(place, easier=place.easier | kept)
    return found


def _aspects(old: Place | None, new: Place | None, zone: ZoneInfo) -> frozenset[Aspect]:
    if old is None or new is None:
        return frozenset({Aspect.PLACED if old is None else Aspect.TAKEN_OUT})
    tests = {
        Aspect.DAY: _date(old, zone) != _date(new, zone),
        Aspect.TIME: _wall(old, zone) != _wall(new, zone),
        Aspect.VENUE: old.venue != new.venue,
        Aspect.COACHES: set(old.coaches) != set(new.coaches),
        Aspect.WHO: (old.absent, old.easier) != (new.absent, new.easier),
    }
    return frozenset(aspect for aspect, differs in tests.items() if differs)


def _date(place: Place, zone: ZoneInfo) -> object:
    return place.starts_at.astimezone(zone).date()


def _wall(place: Place, zone: ZoneInfo) -> object:
    return place.starts_at.astimezone(zone).time(), place.ends_at.astimezone(zone).time()
