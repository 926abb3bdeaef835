"""From the planning contract's JSON document to a `Problem`, or every fault at once."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from sessions.core.planner.faults import Fault, ProblemFaults, Reader, below, ids_of, kind_of_value
from sessions.core.planner.local_time import LocalTime
from sessions.core.planner.problem import (
    Athlete,
    Coach,
    Current,
    Demand,
    Fixed,
    Group,
    Item,
    Kind,
    Policy,
    Problem,
    Span,
    Venue,
)
from sessions.core.planner.reading_policy import read_policy, read_weights

R = TypeVar("R")
GRIDS = (5, 10, 15, 20, 30, 60)
_LISTS = ("athletes", "groups", "coaches", "venues", "fixed", "demands")
_REQUIRED = ("version", "timezone", "horizon", "grid_min", *_LISTS)
_DEMAND = ("id", "kind", "group", "duration_min", "priority", "windows", "venues", "lanes", "coaches", "observers")


def read_problem(document: object) -> Problem:
    """The problem that the document states. Raises `ProblemFaults` with all faults, each with its path."""
    if not isinstance(document, dict):
        raise ProblemFaults([Fault("$", f"the problem must be a JSON object, not {kind_of_value(document)}")])
    reading = _Reading(document)
    problem = reading.problem()
    if problem is None or reading.reader.faults:
        raise ProblemFaults(reading.reader.faults)
    return problem


class _Reading:
    """One document on its way in. A row with a fault is left out; its id still counts as known."""

    def __init__(self, document: dict[str, Any]) -> None:
        self.reader = Reader()
        self.document = document
        self.known = {name: ids_of(document.get(name)) for name in _LISTS}
        self.first_day: datetime.date | None = None
        self.days = 0
        self.local: LocalTime | None = None
        self.horizon: Span | None = None
        self.venue_lanes: dict[str, int] = {}

    def problem(self) -> Problem | None:
        reader, document = self.reader, self.document
        reader.fields(document, "", _REQUIRED, ("policy", "weights", "current"))
        self._version()
        self._zone()
        self._horizon()
        grid = self._grid()
        policy = read_policy(reader, document.get("policy", {}), "policy", Policy())
        weights = read_weights(reader, document.get("weights", {}), "weights")
        athletes = self._listed("athletes", self._athlete)
        groups = self._listed("groups", lambda row, path: self._group(row, path, policy))
        coaches = self._listed("coaches", self._coach)
        venues = self._listed("venues", self._venue)
        self.venue_lanes = {venue.id: venue.lanes for venue in venues.values()}
        fixed = self._listed("fixed", self._fixed)
        demands = self._listed("demands", self._demand)
        current = self._current()
        if grid is None or self.first_day is None or reader.faults:
            return None
        return Problem(
            timezone=document["timezone"],
            first_day=self.first_day,
            days=self.days,
            grid_min=grid,
            policy=policy,
            weights=weights,
            athletes=athletes,
            groups=groups,
            coaches=coaches,
            venues=venues,
            fixed=fixed,
            demands=demands,
            current=current,
        )

    def _version(self) -> None:
        if "version" in self.document:
            version = self.reader.whole(self.document["version"], "version")
            if version not in (1, None):
                self.reader.fault("version", "only version 1 is known")

    def _grid(self) -> int | None:
        if "grid_min" not in self.document:
            return None
        grid = self.reader.whole(self.document["grid_min"], "grid_min")
        if grid is not None and grid not in GRIDS:
            self.reader.fault("grid_min", f"the grid must be one of {', '.join(map(str, GRIDS))} minutes")
        return grid

    def _zone(self) -> None:
        name = self.reader.text(self.document["timezone"], "timezone") if "timezone" in self.document else None
        if name is None:
            return
        try:
            ZoneInfo(name)
            self.local = LocalTime(name)
        except (KeyError, ValueError, OSError):
            self.reader.fault("timezone", f"there is no time zone {name!a}")

    def _horizon(self) -> None:
        if "horizon" not in self.document:
            return
        row = self.reader.fields(self.document["horizon"], "horizon", ("first_day", "days"))
        if row is None:
            return
        self.first_day = self._date(row["first_day"], "horizon.first_day") if "first_day" in row else None
        days = self.reader.whole(row["days"], "horizon.days", least=1) if "days" in row else None
        if self.first_day is None or days is None or self.local is None:
            return
        self.days = days
        try:
            end = self.local.midnight(self.first_day + datetime.timedelta(days=days))
            self.horizon = Span(self.local.midnight(self.first_day), end)
            self.local.moment(end)
        except OverflowError:
            self.reader.fault("horizon.days", "the horizon ends after the last date there is")

    def _date(self, value: object, path: str) -> datetime.date | None:
        text = self.reader.text(value, path)
        if text is None:
            return None
        try:
            day = datetime.date.fromisoformat(text)
            if day.isoformat() == text:
                return day
        except ValueError:
            pass
        self.reader.fault(path, "a date is written like 2027-03-01")
        return None

    def _listed(self, name: str, read: Callable[[dict[str, Any], str], R | None]) -> dict[str, R]:
        """The rows of one of the lists by their ids; the later of two equal ids is a fault."""
        found: dict[str, R] = {}
        seen: set[str] = set()
        if name not in self.document:
            return found
        for index, row in enumerate(self.reader.rows(self.document[name], name)):
            path = f"{name}[{index}]"
            record = read(row, path)
            key = row.get("id") if isinstance(row, dict) else None
            if not isinstance(key, str):
                if isinstance(row, dict) and "id" in row:
                    self.reader.text(key, below(path, "id"))
                continue
            if key in seen:
                self.reader.fault(below(path, "id"), f"the id {key!a} stands here twice")
            seen.add(key)
            if record is not None:
                found[key] = record
        return found

    def _spans(self, row: dict[str, Any], key: str, path: str) -> tuple[Span, ...]:
        return self.reader.each(row[key], below(path, key), self._span) if key in row else ()

    def _span(self, value: object, path: str) -> Span | None:
        span = self.reader.span(value, path)
        if span is None or not self._in_calendar(span.start, below(path, "start")):
            return None
        return span if self._in_calendar(span.end, below(path, "end")) else None

    def _in_calendar(self, minute: int, path: str) -> bool:
        try:
            if self.local is not None:
                self.local.moment(minute)
        except OverflowError:
            self.reader.fault(path, "this instant lies beyond the calendar")
            return False
        return True

    def _calendar_instant(self, value: object, path: str) -> int | None:
        minute = self.reader.instant(value, path)
        return minute if minute is not None and self._in_calendar(minute, path) else None

    def _ids(self, row: dict[str, Any], key: str, path: str, noun: str, known: str = "") -> tuple[str, ...]:
        if key not in row:
            return ()
        return self.reader.references(row[key], below(path, key), self.known[known or key], noun)

    def _whole(self, row: dict[str, Any], key: str, path: str, least: int = 0) -> int | None:
        return self.reader.whole(row[key], below(path, key), least) if key in row else None

    def _athlete(self, value: object, path: str) -> Athlete | None:
        row = self.reader.fields(value, path, ("id",), ("weekly_minutes_cap", "unavailable"))
        if row is None:
            return None
        cap = None if row.get("weekly_minutes_cap") is None else self._whole(row, "weekly_minutes_cap", path)
        return Athlete(str(row.get("id")), cap, self._spans(row, "unavailable", path))

    def _group(self, value: object, path: str, policy: Policy) -> Group | None:
        row = self.reader.fields(value, path, ("id", "athletes"), ("policy",))
        if row is None:
            return None
        own = policy
        if "policy" in row:
            own = read_policy(self.reader, row["policy"], below(path, "policy"), policy, of_group=True)
        return Group(str(row.get("id")), self._ids(row, "athletes", path, "athlete"), own)

    def _coach(self, value: object, path: str) -> Coach | None:
        row = self.reader.fields(value, path, ("id", "available", "max_sessions_per_day"))
        if row is None:
            return None
        most = self._whole(row, "max_sessions_per_day", path)
        return Coach(str(row.get("id")), self._spans(row, "available", path), most or 0)

    def _venue(self, value: object, path: str) -> Venue | None:
        row = self.reader.fields(value, path, ("id", "lanes", "open"))
        if row is None:
            return None
        lanes = self._whole(row, "lanes", path, least=1)
        return Venue(str(row.get("id")), lanes or 1, self._spans(row, "open", path))

    def _kinds(self, row: dict[str, Any], path: str) -> frozenset[Kind]:
        first = self.reader.kind(row["kind"], below(path, "kind")) if "kind" in row else None
        kinds = [] if first is None else [first]
        also = self.reader.rows(row["also"], below(path, "also")) if "also" in row else []
        for index, value in enumerate(also):
            place = f"{below(path, 'also')}[{index}]"
            kind = self.reader.kind(value, place)
            if kind in kinds:
                self.reader.fault(place, f"the kind {kind} is said twice")
            elif kind is not None:
                kinds.append(kind)
        return frozenset(kinds)

    def _fixed(self, value: object, path: str) -> Fixed | None:
        optional = ("also", "athletes", "absent", "coaches", "venue", "lanes", "load_min")
        row = self.reader.fields(value, path, ("id", "kind", "start", "end", "groups"), optional)
        if row is None:
            return None
        reader = self.reader
        kinds = self._kinds(row, path)
        span = self._own_span(row, path)
        groups = self._ids(row, "groups", path, "group")
        athletes = self._ids(row, "athletes", path, "athlete")
        absent = self._ids(row, "absent", path, "athlete", "athletes")
        coaches = self._ids(row, "coaches", path, "coach")
        venue = None
        if "venue" in row:
            venue = reader.reference(row["venue"], below(path, "venue"), self.known["venues"], "venue")
        lanes = self._whole(row, "lanes", path, least=1)
        if "lanes" in row and "venue" not in row:
            reader.fault(below(path, "lanes"), "lanes are given but no venue")
        load = self._whole(row, "load_min", path)
        if span is None:
            return None
        if lanes is None:
            lanes = self.venue_lanes.get(venue or "", 0)
        load = span.end - span.start if load is None else load
        key = str(row.get("id"))
        item = Item(key, kinds, span.start, span.end, groups, coaches, venue, lanes, load, is_fixed=True)
        return Fixed(item, athletes, frozenset(absent))

    def _own_span(self, row: dict[str, Any], path: str) -> Span | None:
        """The span of a row that has `start` and `end` among its other fields."""
        return self._span({key: row[key] for key in ("start", "end")}, path) if {"start", "end"} <= set(row) else None

    def _demand(self, value: object, path: str) -> Demand | None:
        row = self.reader.fields(value, path, _DEMAND, ("also", "preferred", "qualified"))
        if row is None:
            return None
        reader = self.reader
        if row.get("id") in self.known["fixed"] if isinstance(row.get("id"), str) else False:
            reader.fault(below(path, "id"), f"the id {row['id']!a} is also that of a fixed item")
        for key in ("windows", "venues", "coaches", "qualified"):
            reader.not_empty(row.get(key), below(path, key))
        kinds = self._kinds(row, path)
        group = None
        if "group" in row:
            group = reader.reference(row["group"], below(path, "group"), self.known["groups"], "group")
        coaches = self._ids(row, "coaches", path, "coach")
        return Demand(
            id=str(row.get("id")),
            kinds=kinds,
            group=group or "",
            duration_min=self._whole(row, "duration_min", path, least=1) or 1,
            priority=self._priority(row, path),
            windows=reader.each(row["windows"], below(path, "windows"), self._window) if "windows" in row else (),
            preferred=self._spans(row, "preferred", path),
            venues=self._ids(row, "venues", path, "venue"),
            lanes=self._whole(row, "lanes", path, least=1) or 1,
            coaches=coaches,
            observers=self._observers(row, path),
            qualified=self._qualified(row, path),
        )

    def _priority(self, row: dict[str, Any], path: str) -> int:
        if "priority" not in row:
            return 1
        priority = self.reader.whole(row["priority"], below(path, "priority"))
        if priority is not None and not 1 <= priority <= 3:
            self.reader.fault(below(path, "priority"), "the priority must be 1, 2 or 3")
        return priority or 1

    def _observers(self, row: dict[str, Any], path: str) -> int:
        observers = self._whole(row, "observers", path, least=1)
        coaches = row.get("coaches")
        if observers is not None and isinstance(coaches, list) and observers > len(coaches):
            self.reader.fault(below(path, "observers"), f"there are only {len(coaches)} coaches to choose from")
        return observers or 1

    def _qualified(self, row: dict[str, Any], path: str) -> tuple[str, ...]:
        qualified = self._ids(row, "qualified", path, "coach", "coaches")
        listed = row["qualified"] if isinstance(row.get("qualified"), list) else []
        coaches = row["coaches"] if isinstance(row.get("coaches"), list) else None
        for index, name in enumerate(listed):
            if coaches is not None and name in self.known["coaches"] and name not in coaches:
                self.reader.fault(f"{below(path, 'qualified')}[{index}]", f"{name!a} is not among the demand's coaches")
        return qualified

    def _window(self, value: object, path: str) -> Span | None:
        span = self._span(value, path)
        if span is None or self.horizon is None:
            return span
        if span.start < self.horizon.start:
            self.reader.fault(below(path, "start"), "the window begins before the horizon does")
        if not self.horizon.holds(span.start, span.end):
            self.reader.fault(below(path, "end"), "the window does not lie inside the horizon")
        return span

    def _current(self) -> dict[str, Current]:
        found: dict[str, Current] = {}
        rows = self.reader.rows(self.document["current"], "current") if "current" in self.document else []
        for index, value in enumerate(rows):
            path = f"current[{index}]"
            row = self.reader.fields(value, path, ("demand", "start", "venue", "coaches"))
            if row is not None:
                self._current_row(row, path, found)
        return found

    def _current_row(self, row: dict[str, Any], path: str, found: dict[str, Current]) -> None:
        reader = self.reader
        demand = venue = start = None
        if "demand" in row:
            demand = reader.reference(row["demand"], below(path, "demand"), self.known["demands"], "demand")
        if "start" in row:
            start = self._calendar_instant(row["start"], below(path, "start"))
        if "venue" in row:
            venue = reader.reference(row["venue"], below(path, "venue"), self.known["venues"], "venue")
        coaches = self._ids(row, "coaches", path, "coach")
        if demand is not None and demand in found:
            reader.fault(below(path, "demand"), f"there is already a row for the demand {demand!a}")
        elif demand is not None:
            found[demand] = Current(demand, start or 0, venue or "", frozenset(coaches))
