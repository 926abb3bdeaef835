"""Where each demand could go beside the fixed items alone: its starts, each listed once, with venues and coaches."""

from __future__ import annotations

import copy
import dataclasses
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sessions.core.planner.attendance import AthleteRules
from sessions.core.planner.limits import (
    Rule,
    athlete_obstacles,
    blocked_starts,
    coach_obstacles,
    is_coach_available,
    lanes_in_use,
    lies_in_one,
)
from sessions.core.planner.local_time import week_of
from sessions.core.planner.problem import Demand, Item, Placement
from sessions.core.planner.rules import RuleBook

_WEEK_MIN = 7 * 24 * 60


@dataclass(frozen=True)
class Option:
    """One start of one demand. `coaches` are those who could lead it at each of the `venues`; `unable` are the
    athletes whom fixed items or their own absence keep from it."""

    start: int
    date: int
    venues: tuple[str, ...]
    coaches: tuple[frozenset[str], ...]
    unable: frozenset[str]

    @property
    def week(self) -> int:
        return week_of(self.date)


class Options:
    """The options of every demand of a problem."""

    def __init__(self, book: RuleBook) -> None:
        self.book = book
        self.is_whole = True
        self.problem = book.problem
        self.local = book.local
        self._fixed_at = self._by_venue()
        self._fixed_led = self._by_coach()
        self._left: dict[tuple[str, int, int], int] = {}
        self._free: dict[tuple[str, int, int, str | None], bool] = {}
        self._classes = self._like_athletes()
        self.of = {demand.id: self._options(demand) for demand in self.problem.demands.values()}

    def on_dates_of(self, placements: Iterable[Placement]) -> Options:
        """The same, but each of these demands only on the date on which it is placed, where it still can be there."""
        dates = {placement.demand: self.local.date(placement.start) for placement in placements}
        held = {name: tuple(one for one in self.of[name] if one.date == date) for name, date in dates.items()}
        return self._narrowed({name: rows for name, rows in held.items() if rows})

    def at_starts(self, starts: Mapping[str, int]) -> Options:
        """The same, but each of these demands only at its start, where it still can be there."""
        held = {name: tuple(one for one in self.of[name] if one.start == start) for name, start in starts.items()}
        return self._narrowed({name: rows for name, rows in held.items() if rows})

    def _narrowed(self, rows: Mapping[str, tuple[Option, ...]]) -> Options:
        found = copy.copy(self)
        found.is_whole = False
        found.of = {**self.of, **rows}
        return found

    def _by_venue(self) -> dict[str, list[Item]]:
        found: dict[str, list[Item]] = defaultdict(list)
        for item in self.book.fixed:
            if item.venue is not None:
                found[item.venue].append(item)
        return found

    def _by_coach(self) -> dict[str, list[Item]]:
        found: dict[str, list[Item]] = defaultdict(list)
        for item in self.book.fixed:
            for coach in item.coaches:
                found[coach].append(item)
        return found

    def _like_athletes(self) -> dict[str, int]:
        """A number per athlete, equal for those whom rules and fixed items treat alike (own absences aside)."""
        attendance = self.book.attendance
        numbers: dict[object, int] = {}
        tables: dict[object, int] = {}
        found = {}
        for athlete, rules in attendance.rules.items():
            table = tables.setdefault(frozenset(rules.separation.items()), len(tables))
            key = (
                table,
                rules.sessions_per_day,
                rules.rest_days_per_week,
                rules.weekly_minutes_cap,
                tuple(item.id for item in attendance.fixed[athlete]),
            )
            found[athlete] = numbers.setdefault(key, len(numbers))
        return found

    def _options(self, demand: Demand) -> tuple[Option, ...]:
        if self.book.attendance.is_nobody_left(demand):
            return ()
        starts = self.problem.starts[demand.id]
        unable = self._unable(demand, starts)
        most = self.book.attendance.most_excused[demand.id]
        found = []
        for start in starts:
            if len(unable[start]) > most:
                continue
            venues = [(venue, self._coaches(demand, start, venue)) for venue in self._venues(demand, start)]
            venues = [(venue, coaches) for venue, coaches in venues if self._enough(demand, coaches)]
            if venues:
                names, teams = zip(*venues, strict=True)
                date = self.local.date(start)
                found.append(Option(start, date, names, teams, frozenset(unable[start])))
        return tuple(found)

    def _venues(self, demand: Demand, start: int) -> list[str]:
        """The demand's venues that are open, with the lanes it needs beside the fixed items."""
        end = start + demand.duration_min
        return [name for name in demand.venues if self._lanes_left(name, start, end) >= demand.lanes]

    def _lanes_left(self, name: str, start: int, end: int) -> int:
        """Of an open venue, beside the fixed items; -1 where it is not open all the time."""
        left = self._left.get((name, start, end))
        if left is None:
            venue = self.problem.venues[name]
            beside = [item for item in self._fixed_at[name] if item.start < end and start < item.end]
            is_open = lies_in_one(venue.open, start, end)
            left = venue.lanes - lanes_in_use(beside, start, end) if is_open else -1
            self._left[name, start, end] = left
        return left

    def _coaches(self, demand: Demand, start: int, venue: str) -> frozenset[str]:
        """The demand's coaches who could lead it there beside the fixed items."""
        item = self.problem.item_of(Placement(demand.id, start, venue, ()))
        return frozenset(name for name in demand.coaches if self._is_free(name, item))

    def _is_free(self, name: str, item: Item) -> bool:
        key = name, item.start, item.end, item.venue if self.problem.policy.travel_min else None
        free = self._free.get(key)
        if free is None:
            coach, travel_min = self.problem.coaches[name], self.problem.policy.travel_min
            free = self._free[key] = is_coach_available(coach, item.start, item.end) and not coach_obstacles(
                coach, travel_min, self.local, item, self._fixed_led[name]
            )
        return free

    @staticmethod
    def _enough(demand: Demand, coaches: frozenset[str]) -> bool:
        has_qualified = not demand.qualified or bool(coaches & set(demand.qualified))
        return len(coaches) >= demand.observers and has_qualified

    def _unable(self, demand: Demand, starts: tuple[int, ...]) -> dict[int, set[str]]:
        """Per start the athletes whom fixed items or absence keep from the demand."""
        found: dict[int, set[str]] = {start: set() for start in starts}
        classes: dict[int, list[str]] = defaultdict(list)
        for athlete in self.book.attendance.others[demand.id]:
            classes[self._classes[athlete]].append(athlete)
            rules = self.book.attendance.rules[athlete]
            if rules.unavailable:
                for start in starts:
                    if rules.is_unavailable(start, start + demand.duration_min):
                        found[start].add(athlete)
        for athletes in classes.values():
            for start in self._kept_by_fixed(demand, starts, athletes[0]):
                found[start].update(athletes)
        return found

    def _kept_by_fixed(self, demand: Demand, starts: tuple[int, ...], athlete: str) -> list[int]:
        rules = dataclasses.replace(self.book.attendance.rules[athlete], unavailable=())
        fixed = self.book.attendance.fixed[athlete]
        if not starts or (not fixed and not _is_ever_alone_too_much(rules, demand)):
            return []
        reach = _WEEK_MIN + max(rules.separation.values(), default=0) + demand.duration_min
        near = [item for item in fixed if item.start < starts[-1] + reach and starts[0] < item.end + reach]
        spans = [blocked_starts(rules.separation, demand.kinds, demand.duration_min, item) for item in near]
        found = []
        full: dict[int, bool] = {}  # by date: the limits of days and weeks ask nothing more of a start
        for start in starts:
            date = self.local.date(start)
            if date not in full:
                item = self.problem.item_of(Placement(demand.id, start, "", ()))
                obstacles = athlete_obstacles(rules, self.local, item, near)
                full[date] = any(one.rule is not Rule.SEPARATION for one in obstacles)
            if full[date] or any(low < start < high for low, high in spans):
                found.append(start)
        return found


def _is_ever_alone_too_much(rules: AthleteRules, demand: Demand) -> bool:
    """True if the athlete could not attend the demand even in an empty week."""
    cap = rules.weekly_minutes_cap
    return rules.rest_days_per_week > 6 or (cap is not None and demand.duration_min > cap)
