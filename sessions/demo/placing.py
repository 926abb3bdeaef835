"""Places a week's demands in their usual slots by the planner's own rules: plain values in and out."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from sessions.core.planner.limits import (
    athlete_obstacles,
    coach_obstacles,
    is_coach_available,
    lanes_in_use,
    lies_in_one,
)
from sessions.core.planner.problem import Demand, Item, Placement, Problem
from sessions.core.planner.rules import RuleBook


@dataclass(frozen=True)
class Slot:
    """Where a demand usually lies: minute of its start, and its place in the order of placing."""

    demand: str
    start: int
    order: tuple[int, int, int]


@dataclass(frozen=True)
class Roster:
    """Who belongs to a placed demand, and who of them is excused or away."""

    members: tuple[str, ...]
    excused: frozenset[str]
    away: frozenset[str]


def usual_placements(problem: Problem, slots: Iterable[Slot]) -> dict[str, tuple[Placement, Roster]]:
    """By demand a sound part of the usual week: technique and what matters most first, who cannot come is excused.

    What the rules do not allow in its usual slot stays unplaced.
    """
    placing = _Placing(problem)
    for slot in sorted(slots, key=lambda slot: slot.order):
        placing.place(problem.demands[slot.demand], slot.start)
    away = placing.book.attendance.away
    return {
        one.demand: (
            one,
            Roster(problem.groups[problem.demands[one.demand].group].athletes, one.excused, away[one.demand]),
        )
        for one in placing.sound()
    }


class _Placing:
    """The week as far as it is placed."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.book = RuleBook(problem)
        self.diaries: dict[str, list[Item]] = defaultdict(list)
        for athlete, items in self.book.attendance.fixed.items():
            self.diaries[athlete] = list(items)
        self.items: list[Item] = list(self.book.fixed)
        self.led: Counter[str] = Counter()
        self.placements: list[Placement] = []

    def place(self, demand: Demand, start: int) -> None:
        """Place one demand if a venue, its coaches and enough athletes are free then."""
        if not lies_in_one(demand.windows, start, start + demand.duration_min):
            return
        for venue in demand.venues:
            for coaches in self._leaders(demand, start):
                placement = Placement(demand.id, start, venue, coaches)
                item = self.problem.item_of(placement)
                if self._is_free(item):
                    self._attend(demand, placement, item)
                    return

    def sound(self) -> list[Placement]:
        """The placements without any that breaks a rule after all."""
        while broken := {fault.demand for fault in self.book.broken(self.placements)}:
            self.placements = [placement for placement in self.placements if placement.demand not in broken]
        return self.placements

    def _leaders(self, demand: Demand, start: int) -> list[tuple[str, ...]]:
        """Those who could lead it, whoever has led least first; one at least is qualified."""
        end = start + demand.duration_min
        free = [one for one in demand.coaches if is_coach_available(self.problem.coaches[one], start, end)]
        by_name = list(self.problem.coaches)
        ordered = sorted(free, key=lambda one: (self.led[one], by_name.index(one)))
        chosen = combinations(ordered, demand.observers)
        return [pair for pair in chosen if not demand.qualified or set(pair) & set(demand.qualified)]

    def _is_free(self, item: Item) -> bool:
        """Whether venue and coaches are."""
        problem = self.problem
        assert item.venue is not None
        venue = problem.venues[item.venue]
        if not lies_in_one(venue.open, item.start, item.end):
            return False
        beside = [other for other in self.items if other.venue == item.venue and meet(item, other)]
        if lanes_in_use([*beside, item], item.start, item.end) > venue.lanes:
            return False
        return not any(
            coach_obstacles(problem.coaches[coach], problem.policy.travel_min, problem.local, item, self._led_by(coach))
            for coach in item.coaches
        )

    def _led_by(self, coach: str) -> list[Item]:
        return [other for other in self.items if coach in other.coaches]

    def _attend(self, demand: Demand, placement: Placement, item: Item) -> None:
        """Keep the placement if few enough must be excused."""
        attendance = self.book.attendance
        others = attendance.others[demand.id]
        excused = frozenset(one for one in others if self._cannot(one, item))
        if len(excused) > attendance.most_excused[demand.id] or len(excused) == len(others):
            return
        for athlete in others:
            if athlete not in excused:
                self.diaries[athlete].append(item)
        self.items.append(item)
        self.led.update(item.coaches)
        self.placements.append(
            Placement(placement.demand, placement.start, placement.venue, placement.coaches, excused)
        )

    def _cannot(self, athlete: str, item: Item) -> bool:
        rules = self.book.attendance.rules[athlete]
        return bool(athlete_obstacles(rules, self.problem.local, item, self.diaries[athlete]))


def meet(item: Item, other: Item) -> bool:
    return other.start < item.end and item.start < other.end


def fresh_for(problem: Problem, item: Item, athletes: Sequence[str]) -> list[str]:
    """Those of `athletes` who could attend one more item beside the fixed ones."""
    book = RuleBook(problem)
    fixed: Mapping[str, Sequence[Item]] = book.attendance.fixed
    return [
        athlete
        for athlete in athletes
        if not athlete_obstacles(book.attendance.rules[athlete], problem.local, item, fixed[athlete])
    ]
