"""The part of the model that speaks of costs of a group: athletes surely excused, preference, freshness, spacing."""

from __future__ import annotations

from itertools import combinations

from sessions.core.planner.model_groups import GroupModel
from sessions.core.planner.pairs import Reach
from sessions.core.planner.problem import STRENUOUS, Demand, Item, Kind
from sessions.core.planner.score import is_close, is_tired, is_unpreferred


class GroupCosts:
    """Adds to the costs of a `PlanModel` what a group pays for where its sessions lie."""

    def __init__(self, groups: GroupModel) -> None:
        self.groups = groups
        self.plan = groups.plan
        for demand in self.plan.demands:
            self._add_start_costs(demand)
        self._add_pair_costs()

    def _add_start_costs(self, demand: Demand) -> None:
        """Costs that follow from the start alone: athletes surely excused, preference, pairs with fixed items."""
        weights = self.plan.problem.weights
        beside = [fixed for fixed in self.plan.options.book.fixed if demand.group in fixed.groups]
        for option, at in zip(self.plan.options.of[demand.id], self.plan.at[demand.id], strict=True):
            item = Item(
                demand.id, demand.kinds, option.start, option.start + demand.duration_min, (), (), None, 0, 0, False
            )
            cost = weights.excused * len(option.unable - self.groups.in_doubt[demand.id])
            cost += weights.unpreferred * is_unpreferred(self.plan.problem, demand.id, option.start)
            cost += weights.tired * sum(is_tired(self.plan.problem, demand.group, item, other) for other in beside)
            cost += weights.close_pair * sum(is_close(self.plan.problem, demand.group, item, other) for other in beside)
            if cost:
                self.plan.costs[demand.id].append(cost * at)

    def _add_pair_costs(self) -> None:
        for first, second in combinations(self.plan.demands, 2):
            if first.group == second.group:
                self._add_tired(first, second)
                self._add_tired(second, first)
                self._add_close(first, second)

    def _add_tired(self, before: Demand, technique: Demand) -> None:
        if Kind.TECHNIQUE in technique.kinds and before.kinds & STRENUOUS:
            fresh = self.plan.problem.groups[technique.group].policy.fresh_after_min
            reach = Reach(before.duration_min - 1, before.duration_min + fresh)
            self._add_cost(before, technique, reach, self.plan.problem.weights.tired)

    def _add_close(self, first: Demand, second: Demand) -> None:
        if Kind.TECHNIQUE in first.kinds and Kind.TECHNIQUE in second.kinds:
            ideal = self.plan.problem.groups[first.group].policy.ideal_between_technique_min
            reach = Reach(-second.duration_min - ideal, first.duration_min + ideal)
            self._add_cost(first, second, reach, self.plan.problem.weights.close_pair)

    def _add_cost(self, first: Demand, second: Demand, reach: Reach, weight: int) -> None:
        found = self.groups.cliques_of(first, second, reach)
        if weight and found:
            literal = self.plan.literal()
            self.groups.add_rows(first, second, found, unless=literal)
            self.plan.costs[first.id].append(weight * literal)
