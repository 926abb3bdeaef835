"""A problem of many weeks cut into its ISO weeks: what belongs to each, and a part as a problem of its own.

Weeks touch only where a session of one lies near in time to a session of another. Beside a part the sessions that stay
where they are count as items of the calendar, attended by exactly those who attend them.
"""

from __future__ import annotations

import copy
import dataclasses
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping

from sessions.core.planner.limits import is_too_near
from sessions.core.planner.local_time import DAY_MIN
from sessions.core.planner.options import Option, Options
from sessions.core.planner.problem import Demand, Fixed, Item, Kind, Placement, Problem, Span
from sessions.core.planner.rules import RuleBook

_WEEK_MIN = 7 * DAY_MIN


class Weeks:
    """The ISO weeks of one problem. `of[d]` are the weeks in which a demand's windows let it start."""

    def __init__(self, book: RuleBook) -> None:
        self.book = book
        self.problem = book.problem
        self.local = book.local
        self.of = {demand.id: self._weeks_of(demand) for demand in self.problem.demands.values()}
        self.all = sorted({week for weeks in self.of.values() for week in weeks})
        self.spanning = [name for name, weeks in self.of.items() if len(weeks) > 1]
        self.own: dict[int, list[str]] = {week: [] for week in self.all}
        self.touching: dict[int, list[str]] = {week: [] for week in self.all}
        for name, weeks in self.of.items():
            for week in weeks:
                self.touching[week].append(name)
                if len(weeks) == 1:
                    self.own[week].append(name)
        self.reach_min = _reach_min(self.problem)

    def _weeks_of(self, demand: Demand) -> frozenset[int]:
        return frozenset(self.local.week(start) for start in self.problem.starts[demand.id])

    @property
    def reach(self) -> int:
        """How many weeks away a week is still touched."""
        longest = max((demand.duration_min for demand in self.problem.demands.values()), default=0)
        return 1 + (self.reach_min + longest) // _WEEK_MIN

    def problem_of(self, demands: Collection[str], beside: Iterable[Placement] = ()) -> Problem:
        """These demands as a problem of their own, with the fixed items near them and the placed sessions `beside`
        them that stay. Only what lies near is kept of all that has a time."""
        chosen = {name: self.problem.demands[name] for name in self.problem.demands if name in demands}
        spans = [window for demand in chosen.values() for window in demand.windows]
        around = Span(min((s.start for s in spans), default=0), max((s.end for s in spans), default=0))
        near = self.near(around)
        fixed = {name: one for name, one in self.problem.fixed.items() if near.meets(one.item.start, one.item.end)}
        fixed |= self.staying(beside, near)
        part = dataclasses.replace(
            self.problem,
            demands=chosen,
            fixed=fixed,
            current={name: row for name, row in self.problem.current.items() if name in chosen},
            athletes={
                name: dataclasses.replace(one, unavailable=_within(one.unavailable, around)) if one.unavailable else one
                for name, one in self.problem.athletes.items()
            },
            coaches={
                name: dataclasses.replace(one, available=_within(one.available, around))
                for name, one in self.problem.coaches.items()
            },
            venues={
                name: dataclasses.replace(one, open=_within(one.open, around))
                for name, one in self.problem.venues.items()
            },
        )
        part.__dict__["local"] = self.local
        return part

    def near(self, around: Span) -> Span:
        """The time in which an item may still matter to a session in that span."""
        return Span(around.start - self.reach_min - _WEEK_MIN, around.end + self.reach_min + _WEEK_MIN)

    def staying(self, placements: Iterable[Placement], near: Span) -> dict[str, Fixed]:
        """Placed sessions in that span as items of the calendar, attended by exactly those who attend them."""
        found = {}
        for placement in placements:
            item = self.problem.item_of(placement)
            if near.meets(item.start, item.end):
                absent = placement.excused | self.book.attendance.away[placement.demand]
                found[item.id] = Fixed(item, (), absent)
        return found


def _within(spans: tuple[Span, ...], around: Span) -> tuple[Span, ...]:
    return tuple(span for span in spans if span.meets(around.start, around.end))


def _reach_min(problem: Problem) -> int:
    """The longest time between two sessions that still matters to anybody, in minutes."""
    policies = [problem.policy, *(group.policy for group in problem.groups.values())]
    return max(
        problem.policy.travel_min,
        *(max(policy.fresh_after_min, policy.ideal_between_technique_min) for policy in policies),
        *(max(policy.separation.values(), default=0) for policy in policies),
    )


def options_beside(alone: Options, book: RuleBook, weeks: Collection[int]) -> Options:
    """The options of a part beside the sessions that stay, from those of the part `alone`: only starts in these weeks,
    and on each the athletes whom those sessions keep away."""
    found = copy.copy(alone)
    found.book, found.problem = book, book.problem
    staying = [item for item in book.fixed if not item.is_fixed]
    attended: dict[str, set[str]] = defaultdict(set)
    for athlete, items in book.attendance.fixed.items():
        for item in items:
            if not item.is_fixed:
                attended[item.id].add(athlete)
    found.of = {
        name: _beside(book, demand, [one for one in alone.of[name] if one.week in weeks], staying, attended)
        for name, demand in book.problem.demands.items()
    }
    return found


def _beside(
    book: RuleBook, demand: Demand, options: list[Option], staying: list[Item], attended: Mapping[str, set[str]]
) -> tuple[Option, ...]:
    """The options less those that the staying sessions rule out."""
    others = set(book.attendance.others[demand.id])
    reach = max((max(book.attendance.rules[athlete].separation.values(), default=0) for athlete in others), default=0)
    met = [(item, _by_rules(book, others & attended[item.id])) for item in staying if others & attended[item.id]]
    found = []
    for option in options:
        item = book.problem.item_of(Placement(demand.id, option.start, option.venues[0], ()))
        near = [one for one in met if item.start < one[0].end + reach and one[0].start < item.end + reach]
        kept = {
            athlete
            for other, classes in near
            for separation, athletes in classes
            if is_too_near(separation, item, other)
            for athlete in athletes
        }
        if kept - option.unable:
            option = dataclasses.replace(option, unable=option.unable | kept)
        if len(option.unable) <= book.attendance.most_excused[demand.id]:
            found.append(option)
    return tuple(found)


def _by_rules(book: RuleBook, athletes: set[str]) -> list[tuple[Mapping[tuple[Kind, Kind], int], list[str]]]:
    """The athletes by their table of separations."""
    found: dict[int, tuple[Mapping[tuple[Kind, Kind], int], list[str]]] = {}
    for athlete in athletes:
        table = book.attendance.rules[athlete].separation
        found.setdefault(id(table), (table, []))[1].append(athlete)
    return list(found.values())
