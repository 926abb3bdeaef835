"""Who belongs to what, who is away, and the rules that hold for each athlete (rule 5 of the planning contract)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sessions.core.planner.problem import Demand, Item, Kind, Policy, Problem, Span


@dataclass(frozen=True)
class AthleteRules:
    """What holds for one athlete, all groups taken together. Lengths in minutes."""

    separation: Mapping[tuple[Kind, Kind], int]
    sessions_per_day: int | None
    rest_days_per_week: int
    excusals_per_week: int | None
    weekly_minutes_cap: int | None
    unavailable: tuple[Span, ...]

    def is_unavailable(self, start: int, end: int) -> bool:
        return any(span.meets(start, end) for span in self.unavailable)


def _likeness(rules: AthleteRules) -> object:
    """Equal for athletes under one and the same rules with the same absences."""
    return (
        id(rules.separation),
        rules.sessions_per_day,
        rules.rest_days_per_week,
        rules.weekly_minutes_cap,
        rules.unavailable,
    )


def _least(limits: Iterable[int | None]) -> int | None:
    """The smallest limit; None is no limit."""
    return min((limit for limit in limits if limit is not None), default=None)


def _merged_separation(policies: list[Policy]) -> Mapping[tuple[Kind, Kind], int]:
    if len(policies) == 1:
        return policies[0].separation
    pairs = {pair for policy in policies for pair in policy.separation}
    return {pair: max(policy.separation.get(pair, 0) for policy in policies) for pair in pairs}


class Attendance:
    """The roster of a problem: per athlete the rules and fixed items, per demand who counts and who is away."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.groups_of: dict[str, list[str]] = {name: [] for name in problem.athletes}
        for group in problem.groups.values():
            for athlete in group.athletes:
                self.groups_of[athlete].append(group.id)
        self._merged: dict[tuple[str, ...], Mapping[tuple[Kind, Kind], int]] = {}
        self.rules = {name: self._rules(name) for name in problem.athletes}
        self.likeness = {name: _likeness(rules) for name, rules in self.rules.items()}
        self.fixed = self._fixed_items()
        self.away = {demand.id: self._away(demand) for demand in problem.demands.values()}
        self.others = {
            demand.id: tuple(a for a in problem.groups[demand.group].athletes if a not in self.away[demand.id])
            for demand in problem.demands.values()
        }
        self.most_excused = {
            demand.id: math.floor(problem.groups[demand.group].policy.max_excused_share * len(self.others[demand.id]))
            for demand in problem.demands.values()
        }

    def _rules(self, name: str) -> AthleteRules:
        problem = self.problem
        policies = [problem.groups[group].policy for group in self.groups_of[name]] or [problem.policy]
        athlete = problem.athletes[name]
        return AthleteRules(
            separation=self._separation(tuple(self.groups_of[name]), policies),
            sessions_per_day=_least(policy.sessions_per_day for policy in policies),
            rest_days_per_week=max(policy.rest_days_per_week for policy in policies),
            excusals_per_week=_least(policy.excusals_per_week for policy in policies),
            weekly_minutes_cap=athlete.weekly_minutes_cap,
            unavailable=athlete.unavailable,
        )

    def _separation(self, groups: tuple[str, ...], policies: list[Policy]) -> Mapping[tuple[Kind, Kind], int]:
        """One and the same table for all who belong to the same groups."""
        if groups not in self._merged:
            self._merged[groups] = _merged_separation(policies)
        return self._merged[groups]

    def _fixed_items(self) -> dict[str, tuple[Item, ...]]:
        """The fixed items that each athlete attends, earliest first."""
        found: dict[str, list[Item]] = {name: [] for name in self.problem.athletes}
        for fixed in sorted(self.problem.fixed.values(), key=lambda fixed: (fixed.item.start, fixed.item.id)):
            members = {a for group in fixed.item.groups for a in self.problem.groups[group].athletes}
            for athlete in sorted((members | set(fixed.athletes)) - fixed.absent):
                found[athlete].append(fixed.item)
        return {name: tuple(items) for name, items in found.items()}

    def _away(self, demand: Demand) -> frozenset[str]:
        """Members who are unavailable from every start that the windows allow. With no start at all, nobody is."""
        starts = self.problem.starts[demand.id]
        if not starts:
            return frozenset()
        return frozenset(
            athlete
            for athlete in self.problem.groups[demand.group].athletes
            if self.rules[athlete].unavailable
            and all(self.rules[athlete].is_unavailable(start, start + demand.duration_min) for start in starts)
        )

    def is_nobody_left(self, demand: Demand) -> bool:
        """True for a demand whose athletes are all away (a group without athletes has nobody away)."""
        return bool(self.problem.groups[demand.group].athletes) and not self.others[demand.id]
