"""One part of a problem of many weeks, solved beside the sessions around it that stay where they are."""

from __future__ import annotations

import copy
import dataclasses
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sessions.core.planner.bounds import BoundFinder, Bounds, Groups
from sessions.core.planner.options import Options
from sessions.core.planner.peaks import peak_bound
from sessions.core.planner.problem import Placement, Problem
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.score import score_of
from sessions.core.planner.search import Found, Search, Watch, better, checked, nothing_placed
from sessions.core.planner.weeks import Weeks, options_beside

# A plan may stay this share above its bound.
_NEAR_ENOUGH = 0.004
QUICK: Mapping[str, Any] = {
    "num_workers": 1,
    "linearization_level": 0,
    "symmetry_level": 0,
    "max_presolve_iterations": 1,
}
_MOST_COST = 10**12
# A first plan is looked for so long, and only at half hours of the wall, which is nearly always enough and makes a
# model half as large.
_LOOK_S = 0.6
STEP_MIN = 30
# Tenths of the weight of a session without a place for which coach peaks are bounded.
_ROOMS = (1, 3, 6, 9, 19, 29, 59)


@dataclass(frozen=True)
class Task:
    """Weeks to solve: which demands, beside what, from which plan (`hint`). Those that are not `free` keep the date
    that they have there. `least` is what each group costs at least, as far as is known."""

    weeks: tuple[int, ...]
    demands: frozenset[str]
    beside: tuple[Placement, ...]
    hint: tuple[Placement, ...]
    seconds: float
    seed: int
    free: frozenset[str] = frozenset()
    least: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Answer:
    """The part's plan and its cost beside the rest. Of groups alone: their best plans, coaches and lanes aside, by week
    what each costs there, what all cost at least, and what coach peaks add to that in plans no dearer than so much."""

    placements: tuple[Placement, ...]
    cost: int
    least: Mapping[int, Mapping[str, int]] = field(default_factory=dict)
    bound: int = 0
    peaks: Mapping[int, int] = field(default_factory=dict)


class WeekSolver:
    """Solves parts of one problem. `should_stop` ends any of them soon."""

    def __init__(self, book: RuleBook, should_stop: Callable[[], bool] | None = None) -> None:
        self.weeks = Weeks(book)
        self.should_stop = should_stop
        self._alone: dict[int, Options] = {}

    def alone(self, week: int) -> Options:
        """The options of every demand that may lie in the week, beside fixed items only."""
        if week not in self._alone:
            self._alone[week] = Options(RuleBook(self.weeks.problem_of(self.weeks.touching[week])))
        return self._alone[week]

    def groups_alone(self, task: Task) -> Answer:
        """The best plan of each group, or cluster of linked groups, over these weeks as if nobody else were there."""
        own = frozenset(name for week in task.weeks for name in self.weeks.own[week])
        _, options = self._part(dataclasses.replace(task, demands=own))
        finder = BoundFinder(options, self._watch(task))
        bounds = finder.find()
        unplaced = self.weeks.problem.weights.unplaced
        peaks = {room: peak_bound(options, bounds, room) for room in (unplaced * n // 10 for n in _ROOMS)}
        plan = tuple(finder.placements)
        least = {week: self._costs_in(week, plan) for week in task.weeks}
        return Answer(plan, 0, least, bounds.whole, peaks)

    def _costs_in(self, week: int, plan: Sequence[Placement]) -> dict[str, int]:
        """What each group costs in the week, beside the rest of the plan."""
        names = frozenset(self.weeks.own[week])
        mine = [placement for placement in plan if placement.demand in names]
        beside = [placement for placement in plan if placement.demand not in names]
        return costs_by_group(self.weeks.problem_of(names, beside), mine)

    def first_plan(self, task: Task) -> Answer:
        """One week on the dates of the hint, which may break rules; where that loses a session, once more with the
        groups that lost something free."""
        watch = self._watch(task)
        book, options = self._part(task)
        bounds = _bounds_of(book, task)
        best = _looked_for(watch, options, bounds, nothing_placed(book), task.hint, _LOOK_S)
        if best.objective - bounds.whole >= book.problem.weights.unplaced:
            costs = costs_by_group(book.problem, best.placements)
            lost = {group for group, cost in costs.items() if cost > task.least.get(group, 0)}
            held = [one for one in best.placements if book.problem.demands[one.demand].group not in lost]
            best = _looked_for(watch, options, bounds, best, held, _LOOK_S)
        return Answer(best.placements, best.objective)

    def pattern_plan(self, task: Task) -> Answer:
        """What of the hint keeps the rules, where no time is left for more."""
        found = kept_of(*self._part(task), task.hint)
        return Answer(found.placements, found.objective)

    def better_plan(self, task: Task) -> Answer:
        """Weeks together, those demands free to change their date that the task names; never dearer than the hint."""
        book, options = self._part(task)
        best = kept_of(book, options, task.hint)
        held = [placement for placement in task.hint if placement.demand not in task.free]
        best = _looked_for(self._watch(task), options, _bounds_of(book, task), best, held, task.seconds)
        return Answer(best.placements, best.objective)

    def spanning_bounds(self, task: Task) -> Answer:
        """The least costs, by group, of the demands that may lie in several weeks, all others left aside."""
        if not self.weeks.spanning:
            return Answer((), 0)
        options = Options(RuleBook(self.weeks.problem_of(self.weeks.spanning)))
        return Answer((), 0, bound=BoundFinder(options, self._watch(task)).find().whole)

    def _watch(self, task: Task) -> Watch:
        return Watch(task.seconds, None, self.should_stop, 1, task.seed)

    def _part(self, task: Task) -> tuple[RuleBook, Options]:
        """The rules and options of the task's demands beside the sessions that stay."""
        book = RuleBook(self.weeks.problem_of(task.demands, task.beside))
        merged = copy.copy(self.alone(task.weeks[0]))
        merged.of = dict.fromkeys(task.demands, ())
        for week in task.weeks:
            for name, rows in self.alone(week).of.items():
                if name in merged.of:
                    merged.of[name] = rows
        return book, options_beside(merged, book, task.weeks)


def _bounds_of(book: RuleBook, task: Task) -> Bounds:
    groups = sorted({demand.group for demand in book.problem.demands.values()})
    least = {frozenset({group}): task.least.get(group, 0) for group in groups}
    return Bounds(least, list(least))


def _looked_for(
    watch: Watch, options: Options, bounds: Bounds, best: Found, held: Sequence[Placement], seconds: float
) -> Found:
    """A better plan in which these placements keep their dates, if one is found soon; else the best so far."""
    peaks = peak_bound(options, bounds, 0)
    if not watch.left or best.objective <= bounds.whole + peaks:
        return best
    search = Search(thinned(options.on_dates_of(held), STEP_MIN, [*held, *best.placements]))
    minimise_above(search, bounds, peaks)
    search.hint(best.placements or held)
    outcome = search.run(watch, min(seconds, watch.left), relative_gap_limit=_NEAR_ENOUGH, **QUICK)
    return better(best, None if outcome.placements is None else checked(options.book, outcome.placements))


def kept_of(book: RuleBook, options: Options, placements: Iterable[Placement]) -> Found:
    """Of these placements what keeps every rule, those excused whom the options tell."""
    kept = []
    for placement in placements:
        row = next((row for row in options.of[placement.demand] if row.start == placement.start), None)
        if row is not None:
            kept.append(dataclasses.replace(placement, excused=placement.excused | row.unable))
    while kept:
        found = checked(book, kept)
        if found is not None:
            return found
        broken = Counter(one.demand for one in book.broken(kept))
        worst = max((one.demand for one in kept), key=lambda name: broken[name])
        kept = [placement for placement in kept if placement.demand != worst]
    return nothing_placed(book)


def minimise_above(search: Search, bounds: Bounds, peaks: int) -> None:
    """The contract's objective, with what clusters of groups and coach peaks cost at least known to the solver.

    A plan that leaves somebody out may have lower peaks than that: it then counts as dearer by the difference.
    """
    plan = search.plan
    cluster_of = {group: cluster for cluster in bounds.clusters for group in cluster}
    costs: dict[Groups, list[Any]] = defaultdict(list)
    for demand in plan.demands:
        costs[cluster_of[demand.group]] += plan.costs[demand.id]
    wholes = []
    for cluster, terms in costs.items():
        whole = plan.model.new_int_var(bounds.of(cluster), _MOST_COST, "")
        plan.model.add(sum(terms) == whole)
        wholes.append(whole)
    search.peaks_at_least(peaks)
    plan.model.minimize(sum(wholes) + sum(plan.peaks))


def thinned(options: Options, step_min: int, kept: Iterable[Placement]) -> Options:
    """The options at every so many minutes of the hour, and where a placement is told to be kept."""
    keep = {(placement.demand, placement.start) for placement in kept}
    found = copy.copy(options)
    found.of = {
        name: tuple(
            row for row in rows if options.local.wall_min(row.start) % step_min == 0 or (name, row.start) in keep
        )
        for name, rows in options.of.items()
    }
    return found


def shifted(problem: Problem, placements: Iterable[Placement], demands: Sequence[str]) -> tuple[Placement, ...]:
    """What the same pattern would be for these demands: each takes the place of one that is like it in all but its
    windows, at the same time on the wall of the same day of the week."""
    local = problem.local
    places: dict[object, list[Placement]] = defaultdict(list)
    for placement in placements:
        places[_likeness(problem, placement.demand)].append(placement)
    found = []
    for name in demands:
        alike = places[_likeness(problem, name)]
        if alike:
            placement = alike.pop(0)
            wall = local.wall_min(placement.start) % (7 * 24 * 60)
            start = next((s for s in problem.starts[name] if local.wall_min(s) % (7 * 24 * 60) == wall), None)
            if start is not None:
                found.append(dataclasses.replace(placement, demand=name, start=start, excused=frozenset()))
    return tuple(found)


def _likeness(problem: Problem, name: str) -> object:
    demand = problem.demands[name]
    return demand.kinds, demand.group, demand.duration_min, demand.venues, demand.coaches, demand.observers


def costs_by_group(problem: Problem, placements: Iterable[Placement]) -> dict[str, int]:
    """What each group's demands of a part cost."""
    by_group: dict[str, list[Placement]] = defaultdict(list)
    for placement in placements:
        by_group[problem.demands[placement.demand].group].append(placement)
    groups: dict[str, dict[str, object]] = defaultdict(dict)
    for demand in problem.demands.values():
        groups[demand.group][demand.id] = demand
    weights = dataclasses.replace(problem.weights, coach_peak=0)
    found = {}
    for group, demands in groups.items():
        part = dataclasses.replace(problem, demands=demands)  # type: ignore[arg-type]
        part.__dict__["local"] = problem.local
        found[group] = score_of(part, by_group[group]).cost(weights)
    return found
