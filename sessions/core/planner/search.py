"""Runs the solver on one problem and hands back a plan that has passed the rules, with what is proved about it."""

from __future__ import annotations

import dataclasses
import math
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sessions.core.planner.model import PlanModel
from sessions.core.planner.model_costs import GroupCosts
from sessions.core.planner.model_groups import GroupModel
from sessions.core.planner.options import Options
from sessions.core.planner.problem import Demand, Placement
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.score import score_of

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

Progress = Callable[[dict[str, float | int | None]], None]
_POLL_S = 0.05
_REPORT_S = 1.0


@dataclass
class Watch:
    """How long a run may take and who wants to know or to stop it. Seconds count from its making."""

    seconds: float
    on_progress: Progress | None = None
    should_stop: Callable[[], bool] | None = None
    workers: int = 1
    seed: int = 0
    started: float = field(default_factory=time.monotonic)
    is_stopped: bool = False
    best: int | None = None
    bound: int | None = None
    _told: float = 0.0
    _has_told_best: bool = False
    _asked: float = 0.0

    @property
    def spent(self) -> float:
        return time.monotonic() - self.started

    @property
    def left(self) -> float:
        return 0.0 if self.is_stopped else max(0.0, self.seconds - self.spent)

    def note(self, best: int | None = None, bound: int | None = None) -> None:
        """What is known of the whole problem; a worse value than before changes nothing."""
        if best is not None:
            self.best = best if self.best is None else min(self.best, best)
        if bound is not None:
            self.bound = bound if self.bound is None else max(self.bound, bound)

    def ask(self) -> None:
        """Tells the progress (a first plan at once) and asks whether to stop, each about once a second."""
        is_first = self.best is not None and not self._has_told_best
        if self.on_progress is not None and (is_first or self.spent - self._told >= _REPORT_S):
            self._told, self._has_told_best = self.spent, self.best is not None
            self.on_progress({"best": self.best, "bound": self.bound, "seconds": round(self.spent, 2)})
        if self.should_stop is not None and self.spent - self._asked >= _REPORT_S:
            self._asked = self.spent
            self.is_stopped = self.is_stopped or self.should_stop()


@dataclass(frozen=True)
class Found:
    """A plan that keeps every rule; no plan costs less than `bound`."""

    placements: tuple[Placement, ...]
    objective: int
    bound: int = 0

    def with_bound(self, bound: int) -> Found:
        return dataclasses.replace(self, bound=max(self.bound, min(bound, self.objective)))

    @property
    def is_proved(self) -> bool:
        return self.objective == self.bound


def nothing_placed(book: RuleBook) -> Found:
    """The plan that leaves every demand out: it keeps every rule."""
    return Found((), score_of(book.problem, ()).cost(book.problem.weights))


def checked(book: RuleBook, placements: Iterable[Placement]) -> Found | None:
    """The plan with its true objective, or None if it breaks a rule."""
    plan = tuple(placements)
    return None if book.broken(plan) else Found(plan, score_of(book.problem, plan).cost(book.problem.weights))


def better(one: Found, other: Found | None) -> Found:
    return other if other is not None and other.objective < one.objective else one


class Search:
    """One model of one problem, ready to be solved under various side conditions.

    With `demands`, a model of those alone, whose least cost is a bound for what they cost in the whole.
    """

    def __init__(self, options: Options, demands: Iterable[Demand] | None = None) -> None:
        self.plan = PlanModel(options, demands)
        self.groups = GroupModel(self.plan)
        GroupCosts(self.groups)
        self.model = self.plan.model
        self.minimises_whole = False

    def minimise(self) -> None:
        """The contract's objective."""
        self.model.minimize(self._cost())
        self.minimises_whole = self.plan.is_whole and self.plan.options.is_whole

    def cheaper_than(self, objective: int) -> None:
        """Any plan that costs less; there is no objective."""
        self.model.add(self._cost() <= objective - 1)

    def _cost(self) -> Any:
        return sum(term for terms in self.plan.costs.values() for term in terms) + sum(self.plan.peaks)

    def cost_at_least(self, least: Mapping[frozenset[str], int]) -> None:
        """These groups together cost no less than told: what was proved of them elsewhere."""
        costs = self._costs_by_group()
        for groups, bound in least.items():
            self.model.add(sum(term for group in sorted(groups) for term in costs[group]) >= bound)

    def peaks_at_least(self, cost: int) -> None:
        """The coaches' peaks cost no less than told: what was proved of any plan that matters."""
        if self.plan.peaks:
            self.model.add(sum(self.plan.peaks) >= cost)

    def cost_at_most(self, most: Mapping[frozenset[str], int], peaks: int) -> None:
        """These groups together cost no more than told, and the coaches' peaks no more than `peaks`."""
        costs = self._costs_by_group()
        for groups, bound in most.items():
            self.model.add(sum(term for group in sorted(groups) for term in costs[group]) <= bound)
        self.model.add(sum(self.plan.peaks) <= peaks)

    def _costs_by_group(self) -> dict[str, list[Any]]:
        found: dict[str, list[Any]] = defaultdict(list)
        for demand in self.plan.demands:
            found[demand.group] += self.plan.costs[demand.id]
        return found

    def hint(self, placements: Iterable[Placement]) -> None:
        """Tells the solver a plan to begin from."""
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        by_demand = {placement.demand: placement for placement in placements}
        hints: dict[int, tuple[Any, bool]] = {}  # by variable: a hint given twice makes the model invalid
        for demand in self.plan.demands:
            for literal, value in self._hints(demand, by_demand.get(demand.id)):
                hints[literal.index] = literal, value
        for literal, value in hints.values():
            self.model.add_hint(literal, value)

    def _hints(self, demand: Demand, placement: Placement | None) -> Iterator[tuple[Any, bool]]:
        plan, starts = self.plan, self.plan.starts[demand.id]
        taken = placement if placement is not None and placement.start in starts else None
        yield plan.left_out[demand.id], taken is None
        for start, literal in zip(starts, plan.at[demand.id], strict=True):
            yield literal, taken is not None and start == taken.start
        if taken is not None:
            date = plan.local.date(taken.start)
            for coach, literal in plan.leads[demand.id].get(date, {}).items():
                yield literal, coach in taken.coaches
            venues = plan.venue[demand.id][starts.index(taken.start)]
            if len(venues) > 1:
                yield from ((literal, venue == taken.venue) for venue, literal in venues.items())
            for athlete, days in self.groups.attends[demand.id].items():
                if date in days:
                    yield days[date], athlete not in taken.excused

    def run(self, watch: Watch, seconds: float, **settings: Any) -> Outcome:
        """Solves for at most so many seconds. `settings` are parameters of the solver."""
        return run_each([self], watch, seconds, **settings)[0]

    def placements(self, solver: cp_model.CpSolver) -> tuple[Placement, ...]:
        plan = self.plan
        found = []
        for demand in plan.demands:
            for i, at in enumerate(plan.at[demand.id]):
                if solver.boolean_value(at):
                    option = plan.options.of[demand.id][i]
                    team = plan.leads[demand.id].get(option.date, {})
                    venue = next(name for name, lit in plan.venue[demand.id][i].items() if solver.boolean_value(lit))
                    coaches = tuple(
                        name for name in demand.coaches if name in team and solver.boolean_value(team[name])
                    )
                    excused = self._excused(solver, demand.id, option.unable)
                    found.append(Placement(demand.id, option.start, venue, coaches, excused))
        return tuple(found)

    def _excused(self, solver: cp_model.CpSolver, demand: str, unable: frozenset[str]) -> frozenset[str]:
        doubt = self.groups.in_doubt[demand]
        absent = {
            athlete
            for athlete in doubt
            if not any(solver.boolean_value(literal) for literal in self.groups.attends[demand][athlete].values())
        }
        return frozenset(unable - doubt) | absent


@dataclass
class Outcome:
    """What one run of the solver has told so far."""

    status: Any = None
    best: int | None = None
    bound: int | None = None
    placements: tuple[Placement, ...] | None = None
    is_impossible: bool = False
    error: BaseException | None = None

    def note_bound(self, bound: float) -> None:
        """Costs are whole numbers, so a bound holds rounded up."""
        if math.isfinite(bound):
            whole = math.ceil(bound - 1e-6)
            self.bound = whole if self.bound is None else max(self.bound, whole)


class _Run:
    """One run of the solver, in a thread of its own, so that whoever began it can tell and ask meanwhile."""

    def __init__(self, search: Search, watch: Watch, seconds: float, settings: Mapping[str, Any]) -> None:
        self.search, self.outcome = search, Outcome()
        self.cp = search.plan.cp
        self.solver = self.cp.CpSolver()
        parameters = self.solver.parameters
        parameters.max_time_in_seconds = max(0.01, seconds)
        parameters.num_workers = watch.workers
        parameters.random_seed = watch.seed % 2**31
        parameters.cp_model_probing_level = 0
        for name, value in settings.items():
            if isinstance(value, list):
                getattr(parameters, name).extend(value)
            else:
                setattr(parameters, name, value)
        self.solver.best_bound_callback = self.outcome.note_bound
        self.thread = threading.Thread(target=self._solve, name="plan-solver", daemon=True)
        self.thread.start()

    def _solve(self) -> None:
        try:
            callback = _best_so_far(self.cp, self.outcome)
            self.outcome.status = self.solver.solve(self.search.model, callback)
        except BaseException as error:
            self.outcome.error = error

    def is_over(self, watch: Watch) -> bool:
        """Waits a little; stops the solver where the watch was stopped."""
        self.thread.join(_POLL_S)
        if self.search.minimises_whole:
            watch.note(self.outcome.best, self.outcome.bound)
        if watch.is_stopped:
            self.solver.stop_search()
        return not self.thread.is_alive()

    def ended(self) -> Outcome:
        outcome, cp = self.outcome, self.cp
        if outcome.error is not None:
            raise outcome.error
        if outcome.status in (cp.OPTIMAL, cp.FEASIBLE):
            outcome.placements = self.search.placements(self.solver)
            outcome.note_bound(self.solver.best_objective_bound)
        outcome.is_impossible = outcome.status == cp.INFEASIBLE
        return outcome


def run_each(
    searches: Sequence[Search], watch: Watch, seconds: float, at_once: int = 1, **settings: Any
) -> list[Outcome]:
    """Each search run for at most so many seconds, `at_once` side by side; the calling thread reports and asks
    while the solver works. `settings` are parameters of the solver."""
    waiting = list(reversed(searches))
    runs: list[_Run] = []
    working: list[_Run] = []
    while waiting or working:
        while waiting and len(working) < at_once:
            run = _Run(waiting.pop(), watch, min(seconds, max(watch.left, 0.01)), settings)
            runs.append(run)
            working.append(run)
        working = [run for run in working if not run.is_over(watch)]
        watch.ask()
    return [run.ended() for run in runs]


def _best_so_far(cp: Any, outcome: Outcome) -> Any:
    class Callback(cp.CpSolverSolutionCallback):  # type: ignore[misc]
        def on_solution_callback(self) -> None:
            outcome.best = round(self.objective_value)

    return Callback()
