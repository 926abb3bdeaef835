"""The one place that checks a plan, whether the solver or a hand made it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sessions.core.planner.attendance import Attendance
from sessions.core.planner.limits import (
    Code,
    Rule,
    athlete_obstacles,
    coach_obstacles,
    is_coach_available,
    lanes_in_use,
    lies_in_one,
)
from sessions.core.planner.local_time import DAY_MIN
from sessions.core.planner.problem import Demand, Item, Placement, Problem


@dataclass(frozen=True)
class Broken:
    """One rule that a placed demand breaks; `athletes`, `coaches` and `others` (ids of items) say who and with what."""

    rule: Rule
    code: Code
    demand: str
    athletes: tuple[str, ...] = ()
    coaches: tuple[str, ...] = ()
    others: tuple[str, ...] = ()


def broken_rules(problem: Problem, placements: Iterable[Placement]) -> list[Broken]:
    """Everything that the placements break of the contract's rules 1 to 8; an empty list for a sound plan.

    Placements name demands, venues, coaches and athletes of the problem (KeyError otherwise). Any start may be
    given, on the grid or not.
    """
    return RuleBook(problem).broken(placements)


class Nearby:
    """Items by their time, so that only those near to one are asked about it."""

    def __init__(self, items: Sequence[Item], reach_min: int) -> None:
        self.items = items
        self.reach_min = reach_min
        self.order = sorted(range(len(items)), key=lambda position: items[position].start)
        self.starts = [items[position].start for position in self.order]
        self.longest = max((item.end - item.start for item in items), default=0)

    def to(self, item: Item) -> list[Item]:
        """All others with no more than the reach between them and the item, in the order in which they were given."""
        first = bisect_left(self.starts, item.start - self.reach_min - self.longest)
        last = bisect_right(self.starts, item.end + self.reach_min)
        found = (self.items[position] for position in sorted(self.order[first:last]))
        return [other for other in found if other is not item]


class RuleBook:
    """The rules of one problem, ready to check any number of plans."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.local = problem.local
        self.attendance = Attendance(problem)
        self.fixed = tuple(fixed.item for fixed in problem.fixed.values())

    def broken(self, placements: Iterable[Placement]) -> list[Broken]:
        placed = list(placements)
        items = {id(placement): self.problem.item_of(placement) for placement in placed}
        pairs = [(placement, items[id(placement)]) for placement in placed]
        found = list(self._placed_twice(placed))
        for placement, item in pairs:
            found += self._window(placement, item)
            found += self._observers(placement)
            found += self._excused(placement)
        found += self._coaches([item for _, item in pairs])
        found += self._lanes([item for _, item in pairs])
        found += self._athletes(pairs)
        found += self._excusals(pairs)
        return found

    def _placed_twice(self, placed: list[Placement]) -> Iterator[Broken]:
        seen: set[str] = set()
        for placement in placed:
            if placement.demand in seen:
                yield Broken(Rule.WINDOW, Code.PLACED_TWICE, placement.demand)
            seen.add(placement.demand)

    def _window(self, placement: Placement, item: Item) -> Iterator[Broken]:
        """Rule 1."""
        demand = self.problem.demands[placement.demand]
        if self.local.wall_min(item.start) % self.problem.grid_min:
            yield Broken(Rule.WINDOW, Code.OFF_GRID, demand.id)
        if not lies_in_one(demand.windows, item.start, item.end):
            yield Broken(Rule.WINDOW, Code.OUTSIDE_WINDOWS, demand.id)
        if placement.venue not in demand.venues:
            yield Broken(Rule.WINDOW, Code.VENUE_NOT_LISTED, demand.id)
        if not lies_in_one(self.problem.venues[placement.venue].open, item.start, item.end):
            yield Broken(Rule.WINDOW, Code.VENUE_CLOSED, demand.id)
        for coach in placement.coaches:
            if not is_coach_available(self.problem.coaches[coach], item.start, item.end):
                yield Broken(Rule.WINDOW, Code.COACH_NOT_AVAILABLE, demand.id, coaches=(coach,))

    def _observers(self, placement: Placement) -> Iterator[Broken]:
        """Rule 2."""
        demand = self.problem.demands[placement.demand]
        strangers = tuple(coach for coach in placement.coaches if coach not in demand.coaches)
        if strangers:
            yield Broken(Rule.OBSERVERS, Code.COACH_NOT_LISTED, demand.id, coaches=strangers)
        if not len(placement.coaches) == len(set(placement.coaches)) == demand.observers:
            yield Broken(Rule.OBSERVERS, Code.OBSERVERS_COUNT, demand.id, coaches=placement.coaches)
        if demand.qualified and not set(demand.qualified) & set(placement.coaches):
            yield Broken(Rule.OBSERVERS, Code.NONE_QUALIFIED, demand.id, coaches=placement.coaches)

    def _coaches(self, items: list[Item]) -> Iterator[Broken]:
        """Rule 3."""
        led: dict[str, list[Item]] = defaultdict(list)
        for item in (*self.fixed, *items):
            for coach in sorted(set(item.coaches)):
                led[coach].append(item)
        travel_min = self.problem.policy.travel_min
        nearby = {coach: Nearby(items_led, travel_min + DAY_MIN) for coach, items_led in led.items()}
        for item in items:
            for coach in sorted(set(item.coaches)):
                others = nearby[coach].to(item)
                for obstacle in coach_obstacles(self.problem.coaches[coach], travel_min, self.local, item, others):
                    yield Broken(obstacle.rule, obstacle.code, item.id, coaches=(coach,), others=obstacle.others)

    def _lanes(self, items: list[Item]) -> Iterator[Broken]:
        """Rule 4."""
        used: dict[str | None, list[Item]] = defaultdict(list)
        for item in (*self.fixed, *items):
            used[item.venue].append(item)
        for item in items:
            assert item.venue is not None
            at_venue = [other for other in used[item.venue] if other.start < item.end and item.start < other.end]
            if lanes_in_use(at_venue, item.start, item.end) > self.problem.venues[item.venue].lanes:
                others = tuple(other.id for other in at_venue if other is not item)
                yield Broken(Rule.LANES, Code.LANES_FULL, item.id, others=others)

    def _excused(self, placement: Placement) -> Iterator[Broken]:
        """Rule 5, as far as one demand goes."""
        demand = self.problem.demands[placement.demand]
        others = self.attendance.others[demand.id]
        if self.attendance.is_nobody_left(demand):
            yield Broken(Rule.ATTENDANCE, Code.ALL_AWAY, demand.id, athletes=tuple(self._away(demand)))
        strangers = tuple(sorted(placement.excused - set(others)))
        if strangers:
            yield Broken(Rule.ATTENDANCE, Code.EXCUSED_WITHOUT_PLACE, demand.id, athletes=strangers)
        if len(placement.excused) > self.attendance.most_excused[demand.id]:
            excused = tuple(sorted(placement.excused))
            yield Broken(Rule.ATTENDANCE, Code.TOO_MANY_EXCUSED, demand.id, athletes=excused)

    def _away(self, demand: Demand) -> list[str]:
        return sorted(self.attendance.away[demand.id])

    def diaries(self, pairs: Iterable[tuple[Placement, Item]]) -> dict[str, list[Item]]:
        """Per athlete the items attended: fixed ones, and placed ones neither away from nor excused from."""
        found = {athlete: list(items) for athlete, items in self.attendance.fixed.items()}
        for placement, item in pairs:
            for athlete in self.attendance.others[placement.demand]:
                if athlete not in placement.excused:
                    found[athlete].append(item)
        return found

    def _athletes(self, pairs: list[tuple[Placement, Item]]) -> Iterator[Broken]:
        """Rules 5 to 8 for every athlete, gathered by demand, code and the other items."""
        diaries = self.diaries(pairs)
        met: dict[tuple[str, Rule, Code, tuple[str, ...]], list[str]] = defaultdict(list)
        for alike in self._alike(diaries):
            rules, diary = self.attendance.rules[alike[0]], diaries[alike[0]]
            reach = max(rules.separation.values(), default=0) + 7 * DAY_MIN
            nearby = Nearby(diary, reach)
            for item in diary:
                if item.is_fixed:
                    continue
                others = nearby.to(item)
                for obstacle in athlete_obstacles(rules, self.local, item, others):
                    met[item.id, obstacle.rule, obstacle.code, obstacle.others] += alike
        place = {athlete: number for number, athlete in enumerate(diaries)}
        for (demand, rule, code, ids), athletes in met.items():
            yield Broken(rule, code, demand, athletes=tuple(sorted(athletes, key=place.__getitem__)), others=ids)

    def _alike(self, diaries: Mapping[str, list[Item]]) -> Iterable[list[str]]:
        """The athletes, those together who attend the same items under the same rules."""
        found: dict[object, list[str]] = defaultdict(list)
        for athlete, diary in diaries.items():
            found[self.attendance.likeness[athlete], *map(id, diary)].append(athlete)
        return found.values()

    def _excusals(self, pairs: list[tuple[Placement, Item]]) -> Iterator[Broken]:
        """Rule 5: excusals of one athlete in one ISO week."""
        excused: dict[tuple[str, int], list[str]] = defaultdict(list)
        for placement, item in pairs:
            for athlete in sorted(placement.excused):
                excused[athlete, self.local.week(item.start)].append(item.id)
        for (athlete, _), demands in excused.items():
            most = self.attendance.rules[athlete].excusals_per_week
            if most is not None and len(demands) > most:
                for demand in demands:
                    others = tuple(other for other in demands if other != demand)
                    yield Broken(Rule.ATTENDANCE, Code.EXCUSALS_USED_UP, demand, athletes=(athlete,), others=others)
