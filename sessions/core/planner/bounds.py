"""What groups cost at least, alone and together: the bounds that prove a plan of the whole.

Coaches and lanes are left aside, so whatever holds here holds in the whole problem. Groups that share athletes are
*linked*: beside each group alone, each linked pair is placed together, and then each cluster of linked groups.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from types import MappingProxyType
from typing import Any

from sessions.core.planner.options import Options
from sessions.core.planner.problem import Demand, Placement
from sessions.core.planner.search import Outcome, Search, Watch, run_each

Groups = frozenset[str]
_ALONE_S, _PAIR_S = 5.0, 5.0
# Of the time that is left, for one cluster of more than two groups.
_SHARE_OF_CLUSTER = 0.5


@dataclass
class Bounds:
    """`least[groups]` is what these groups' demands cost at least together."""

    least: dict[Groups, int] = field(default_factory=dict)
    clusters: list[Groups] = field(default_factory=list)

    @property
    def alone(self) -> dict[str, int]:
        """What each group costs at least."""
        return {next(iter(groups)): cost for groups, cost in self.least.items() if len(groups) == 1}

    @property
    def whole(self) -> int:
        """What all groups cost at least."""
        return self.whole_if({})

    def whole_if(self, at_least: Mapping[str, int]) -> int:
        """What all groups cost at least where some cost no less than told: the cheapest costs that meet every bound."""
        return sum(self.of(cluster, at_least) for cluster in self.clusters)

    def of(self, cluster: Groups, at_least: Mapping[str, int] = MappingProxyType({})) -> int:
        """What one cluster costs at least."""
        is_raised = any(self.least.get(frozenset({group}), 0) < at_least.get(group, 0) for group in cluster)
        if cluster in self.least and not is_raised:
            return self.least[cluster]
        if len(cluster) == 1:
            return max(at_least.get(group, 0) for group in cluster)
        return _cheapest(cluster, self.least, at_least)


def _cheapest(cluster: Groups, least: Mapping[Groups, int], at_least: Mapping[str, int]) -> int:
    """The least sum of whole costs, one for each group, that meets every bound of groups in the cluster."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    most = sum(least.values()) + sum(at_least.values())
    cost = {group: model.new_int_var(at_least.get(group, 0), most, "") for group in sorted(cluster)}
    for groups, bound in least.items():
        if groups <= cluster:
            model.add(sum(cost[group] for group in groups) >= bound)
    model.minimize(sum(cost.values()))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.solve(model)
    return max(0, round(solver.best_objective_bound))


class BoundFinder:
    """Finds the bounds of a problem within the time of a watch, several parts at a time where it has workers."""

    def __init__(self, options: Options, watch: Watch) -> None:
        self.options, self.watch = options, watch
        self.bounds = Bounds()
        self.plans: dict[Groups, Outcome] = {}
        self.demands: dict[str, list[Demand]] = defaultdict(list)
        for demand in options.problem.demands.values():
            self.demands[demand.group].append(demand)

    def find(self) -> Bounds:
        """Each group alone, each linked pair, each cluster; what time does not allow is the less exact."""
        self.find_apart()
        return self.find_together()

    def find_apart(self) -> Bounds:
        """Each group alone and each linked pair."""
        pairs = self._linked_pairs()
        self.bounds.clusters = clusters(self.demands, pairs)
        self._solve_all([frozenset({group}) for group in self.demands], _ALONE_S)
        self._solve_all(pairs, _PAIR_S)
        return self.bounds

    def find_together(self) -> Bounds:
        """Each cluster of more than two groups, within about half of the time that is left."""
        for cluster in self.bounds.clusters:
            if len(cluster) > 2:
                self._solve_cluster(cluster)
        return self.bounds

    @property
    def is_done(self) -> bool:
        """Whether every cluster was placed together."""
        return all(cluster in self.plans for cluster in self.bounds.clusters)

    def _linked_pairs(self) -> list[Groups]:
        """Pairs of groups with demands that share an athlete."""
        found = {
            frozenset(pair)
            for groups in self.options.book.attendance.groups_of.values()
            for pair in combinations(sorted(set(groups) & self.demands.keys()), 2)
        }
        return sorted(found, key=sorted)

    def _search(self, groups: Groups) -> Search:
        search = Search(self.options, [demand for group in sorted(groups) for demand in self.demands[group]])
        search.cost_at_least({some: bound for some, bound in self.bounds.least.items() if some < groups})
        search.minimise()
        return search

    def _solve_all(self, wanted: Sequence[Groups], seconds: float) -> None:
        """Parts that know nothing of each other, as many at a time as there are workers."""
        searches = [self._search(groups) for groups in wanted]
        seconds = min(seconds, self.watch.left / 4)
        outcomes = run_each(searches, self.watch, seconds, at_once=self.watch.workers, **PROVING)
        for groups, outcome in zip(wanted, outcomes, strict=True):
            self._keep(groups, outcome)

    def _solve_cluster(self, groups: Groups) -> None:
        seconds = self.watch.left * _SHARE_OF_CLUSTER
        search = self._search(groups)
        search.hint(self.plan_of(groups))
        self._keep(groups, search.run(self.watch, seconds, **proving_together(self.watch.workers)))

    def plan_of(self, groups: Groups) -> list[Placement]:
        """These groups' best plan without the others, as far as one is known; else each group's own. Together, or
        beside other groups, they may break rules: a place to begin from."""
        told = self.plans.get(groups)
        if told is not None and told.placements is not None:
            return list(told.placements)
        alone = [self.plans.get(frozenset({group})) for group in sorted(groups)]
        return [one for outcome in alone if outcome for one in outcome.placements or ()]

    @property
    def placements(self) -> list[Placement]:
        """Every cluster's best plan."""
        return [placement for cluster in self.bounds.clusters for placement in self.plan_of(cluster)]

    @property
    def linked_placements(self) -> list[Placement]:
        """The best plans of those clusters that hold more than one group."""
        return [one for cluster in self.bounds.clusters if len(cluster) > 1 for one in self.plan_of(cluster)]

    def _keep(self, groups: Groups, outcome: Outcome) -> None:
        self.bounds.least[groups] = max(self.bounds.of(groups), outcome.bound or 0)
        self.plans[groups] = outcome


PROVING: Mapping[str, Any] = {"num_workers": 1, "linearization_level": 2}
"""Small models are proved by their linear relaxation, on one worker."""


def proving_together(workers: int) -> dict[str, Any]:
    """Settings that prove clusters: a search from below, and one over the whole linear relaxation beside it."""
    if workers == 1:
        return dict(PROVING) | {"optimize_with_lb_tree_search": True}
    return {"linearization_level": 2, "num_workers": 2, "subsolvers": ["lb_tree_search", "max_lp"]}


def clusters(groups: Iterable[str], pairs: Iterable[Groups]) -> list[Groups]:
    """Groups that are linked, directly or through others, together."""
    part = {group: {group} for group in groups}
    for one, other in map(sorted, pairs):
        if part[one] is not part[other]:
            part[one] |= part[other]
            part.update(dict.fromkeys(part[other], part[one]))
    return [frozenset(some) for some in {id(some): some for some in part.values()}.values()]
