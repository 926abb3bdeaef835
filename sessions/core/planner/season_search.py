"""How a problem of many weeks is solved: week after week, then again where it costs more than it must.

The bound is the sum of what the weeks cost at least alone. Processes solve weeks that do not touch at the same time.
"""

from __future__ import annotations

import dataclasses
import gc
import importlib
import multiprocessing
import multiprocessing.synchronize
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from multiprocessing.pool import AsyncResult, Pool

from sessions.core.planner.problem import Placement
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.score import score_of
from sessions.core.planner.search import Found, Watch, checked, nothing_placed
from sessions.core.planner.week_solver import Answer, Task, WeekSolver, costs_by_group, shifted
from sessions.core.planner.weeks import Weeks

_FEWEST_DEMANDS = 60
_MOST_SPANNING = 0.2
_POLL_S = 0.1
# Of the time: for the first plans of all weeks, and what is kept for explaining and writing.
_SHARE_OF_FIRST = 0.8
_SHARE_OF_TELLING = 0.1
_REPAIR_S = 2.0
_LEAST_S = 0.3
# So many weeks are looked at together when groups are solved alone: their dates then fit across the borders.
_ALONE_WEEKS = 4
# With less time than this for each week left, the others only repeat the pattern, as far as the rules let them.
_PATTERN_S = 0.6
# Weeks that differ by fewer placed sessions than this serve equally well as a pattern; the nearest is taken.
_ALIKE = 5
# How long those who were asked to stop may take to tell what they have.
_GRACE_S = 1.0
# What is solved again around a dear week, try by try: weeks from it, weeks to it, and whether all groups may change
# their dates there or only those that lost something (the others then stay where they are in the weeks beside it).
_TRIES = ((0, 0, False), (-1, 0, False), (0, 1, False), (0, 0, True), (-1, 1, False))

_solver: WeekSolver | None = None


def is_season(weeks: Weeks) -> bool:
    """True for a problem worth cutting: more than one ISO week, many demands, few that could lie in several weeks."""
    count = len(weeks.problem.demands)
    return len(weeks.all) > 1 and count > _FEWEST_DEMANDS and len(weeks.spanning) <= _MOST_SPANNING * count


def season_plan(book: RuleBook, weeks: Weeks, watch: Watch) -> Found:
    """The best plan of many weeks that the time allows, checked as a whole, with a bound."""
    search = SeasonSearch(book, weeks, watch)
    search.run()
    found = _sound(book, search.plan)
    return found.with_bound(search.bound(found.objective))


def _sound(book: RuleBook, plan: dict[str, Placement]) -> Found:
    """The plan as a whole, less what would break a rule (nothing, as long as the parts were cut rightly)."""
    placements = [plan[name] for name in book.problem.demands if name in plan]
    while placements:
        found = checked(book, placements)
        if found is not None:
            return found
        broken = {one.demand for one in book.broken(placements)}
        placements = [placement for placement in placements if placement.demand not in broken]
    return nothing_placed(book)


@dataclass
class _Week:
    """What is known of one week: what each group costs there at least, and more than that beside those solved."""

    least: Mapping[str, int] = field(default_factory=dict)
    excess: dict[str, int] = field(default_factory=dict)
    tries: int = 0


class SeasonSearch:
    """The plan so far and what is left to do; solving itself happens in processes."""

    def __init__(self, book: RuleBook, weeks: Weeks, watch: Watch) -> None:
        self.book, self.weeks, self.watch = book, weeks, watch
        self.problem = book.problem
        self.plan: dict[str, Placement] = {}
        self.known = {week: _Week() for week in weeks.all}
        self.alone: dict[tuple[int, ...], Answer | None] = {}
        self.spanning_bound = 0
        self.objective = nothing_placed(book).objective
        self.until = watch.seconds * (1 - _SHARE_OF_TELLING)
        self.working: dict[AsyncResult[Answer], tuple[str, Task]] = {}

    @property
    def left(self) -> float:
        return 0.0 if self.watch.is_stopped else max(0.0, self.until - self.watch.spent)

    def run(self) -> None:
        importlib.import_module("ortools.sat.python.cp_model")  # once, not in every process
        gc.freeze()  # what the processes inherit is never collected: looking through it would copy its pages
        context = multiprocessing.get_context("fork")
        stop = context.Event()
        count = max(1, self.watch.workers)
        with context.Pool(count, _begin, (self.book, stop)) as pool:  # leaving it ends what still runs
            if self.weeks.spanning:
                self._send(pool, "spanning_bounds", self._task((), frozenset(), self.left / 4))
            self._all_done(pool, stop, self._first_tasks(count), count)
            self._all_done(pool, stop, self._repairs(), count)
        gc.unfreeze()

    def bound(self, objective: int) -> int:
        """What no plan is cheaper than: groups alone in each run of weeks, and coach peaks if a better plan is to be
        found."""
        answers = [answer for answer in self.alone.values() if answer is not None]
        whole = self.spanning_bound + sum(answer.bound for answer in answers)
        room = objective - whole
        return whole + sum(max((cost for upto, cost in a.peaks.items() if upto >= room), default=0) for a in answers)

    # The tasks

    def _first_tasks(self, count: int) -> Iterator[tuple[str, Task] | None]:
        """Groups alone in each few weeks, then each of these weeks, in as many runs side by side as there are
        processes; None while nothing can begin."""
        every = self.weeks.all
        starts = [every[len(every) * n // count] for n in range(count) if n == 0 or len(every) >= 4 * count]
        runs = [[w for w in every if w >= start and not any(start < s <= w for s in starts)] for start in starts]
        near = {
            w: tuple(run[i : i + _ALONE_WEEKS])
            for run in runs
            for i in range(0, len(run), _ALONE_WEEKS)
            for w in run[i : i + _ALONE_WEEKS]
        }
        while any(runs):
            for run in sorted(runs, key=len, reverse=True):
                if run and self._is_free(run[:1]):
                    remaining = (sum(map(len, runs)) + len(self.working)) / count
                    yield self._first_task(near[run[0]], run, remaining)
                    break
            else:
                yield None

    def _first_task(self, weeks: tuple[int, ...], run: list[int], remaining: float) -> tuple[str, Task]:
        """What comes next for the first week of the run: with the time for it running out, only the pattern."""
        if self.plan and self.left < _PATTERN_S * remaining and weeks not in self.alone:
            week = run.pop(0)
            return "pattern_plan", self._task((week,), self._names((week,)), self.left, self._pattern(week))
        fair = max(_LEAST_S, min(2 * (self.until * _SHARE_OF_FIRST - self.watch.spent) / remaining, self.left))
        if weeks not in self.alone:
            self.alone[weeks] = None
            return "groups_alone", self._task(weeks, frozenset(), len(weeks) * fair)
        week = run.pop(0)
        answer = self.alone[weeks]
        names = self._names((week,))
        dates = tuple(placement for placement in answer.placements if placement.demand in names) if answer else ()
        task = self._task((week,), names, fair, dates)
        return "first_plan", dataclasses.replace(task, least=self.known[week].least)

    def _pattern(self, week: int) -> tuple[Placement, ...]:
        """What the plan of the nearest week with most sessions would be in this one."""
        filled = Counter(map(self._week, self.plan.values()))
        pattern = min(filled, key=lambda other: (-filled[other] // _ALIKE, abs(other - week)))
        before = [p for p in self.plan.values() if self._week(p) == pattern]
        names = self._names((week,))
        return shifted(self.problem, before, [name for name in self.problem.demands if name in names])

    def _repairs(self) -> Iterator[tuple[str, Task] | None]:
        """Weeks that cost more than they must, those that lost a session first, until nothing gets better."""
        most_tries = len(_TRIES)
        while any(self._excess(week) > 0 and known.tries < most_tries for week, known in self.known.items()):
            order = sorted(
                (week for week, known in self.known.items() if self._excess(week) > 0 and known.tries < most_tries),
                key=lambda week: (not self._has_lost(week), self.known[week].tries, -self._excess(week), week),
            )
            yield next((repair for week in order if (repair := self._repair(week)) is not None), None)

    def _has_lost(self, week: int) -> bool:
        """Whether a session has no place that could have one if its group were alone."""
        return self._excess(week) >= self.problem.weights.unplaced

    def _excess(self, week: int) -> int:
        return sum(self.known[week].excess.values())

    def _repair(self, week: int) -> tuple[str, Task] | None:
        """The week with the groups free that lost something, alone or with those groups' weeks beside it; or all."""
        known = self.known[week]
        first, last, is_whole = _TRIES[known.tries]
        around = [w for w in range(week + first, week + last + 1) if w in self.known]
        if not self._is_free(around):
            return None
        known.tries += 1
        lost = {group for group, cost in known.excess.items() if cost > 0}
        named = {name: self.problem.demands[name].group for name in self._names(around)}
        own = self._names((week,))
        names = frozenset(name for name, group in named.items() if is_whole or group in lost or name in own)
        least: Counter[str] = Counter()
        for w in around:
            alone = self.known[w].least
            least.update({group: cost for group, cost in alone.items() if is_whole or group in lost or w == week})
        hint = tuple(self.plan[name] for name in self.problem.demands if name in names and name in self.plan)
        seconds = max(_LEAST_S, min(_REPAIR_S, self.left))
        task = self._task(tuple(around), names, seconds, hint)
        free = frozenset(name for name in names if is_whole or named[name] in lost)
        return "better_plan", dataclasses.replace(task, free=free, least=least, seed=task.seed + known.tries)

    def _task(
        self, weeks: tuple[int, ...], names: frozenset[str], seconds: float, hint: tuple[Placement, ...] = ()
    ) -> Task:
        near = {week + step for week in weeks for step in range(-self.weeks.reach, self.weeks.reach + 1)}
        beside = tuple(p for p in self.plan.values() if p.demand not in names and self._week(p) in near)
        return Task(weeks, names, beside, hint, seconds, self.watch.seed)

    def _names(self, weeks: list[int] | tuple[int, ...]) -> frozenset[str]:
        """The demands that lie in these weeks or could, those placed elsewhere aside."""
        names = {name for week in weeks for name in self.weeks.touching[week]}
        return frozenset(name for name in names if name not in self.plan or self._week(self.plan[name]) in weeks)

    def _week(self, placement: Placement) -> int:
        return self.book.local.week(placement.start)

    def _is_free(self, weeks: list[int]) -> bool:
        """False while a week that touches one of these is being solved, or one that shares a demand with it."""
        taken = {week for _, task in self.working.values() for week in task.weeks}
        names = {name for week in weeks for name in self.weeks.touching[week]}
        shared = {week for name in names for week in self.weeks.of[name]}
        near = {week + step for week in weeks for step in range(-self.weeks.reach, self.weeks.reach + 1)}
        return not taken & (near | shared)

    # The processes

    def _all_done(
        self,
        pool: Pool,
        stop: multiprocessing.synchronize.Event,
        tasks: Iterator[tuple[str, Task] | None],
        count: int,
    ) -> None:
        """Keeps `count` processes busy with the tasks until there are none, or no time."""
        is_over = False
        while True:
            while not is_over and len(self.working) < count and self.left:
                task = next(tasks, "over")
                if task is None or isinstance(task, str):
                    is_over = task == "over"
                    break
                self._send(pool, *task)
            if not self.working:
                return
            next(iter(self.working)).wait(_POLL_S)
            for result in [result for result in self.working if result.ready()]:
                self._take(*self.working.pop(result), result.get())
            self.watch.ask()
            if not self.left:
                stop.set()
            if self.watch.is_stopped or self.watch.spent > self.until + _GRACE_S:
                self.working.clear()

    def _send(self, pool: Pool, what: str, task: Task) -> None:
        self.working[pool.apply_async(_solve, (what, task))] = what, task

    def _take(self, what: str, task: Task, answer: Answer) -> None:
        """The answer becomes part of the plan, or of what is known."""
        if what == "spanning_bounds":
            self.spanning_bound = answer.bound
        elif what == "groups_alone":
            self.alone[task.weeks] = answer
            for week, least in answer.least.items():
                self.known[week].least = least
        else:
            self._adopt(task, answer)
        self.watch.note(self.objective, self.bound(self.objective))

    def _adopt(self, task: Task, answer: Answer) -> None:
        """The answer's sessions instead of those so far, unless the weeks as a whole are dearer with them."""
        names = task.demands | self._names(task.weeks)
        part = self.weeks.problem_of(names, self._task(task.weeks, names, 0).beside)
        before = {name: self.plan[name] for name in names if name in self.plan}
        after = {name: placement for name, placement in before.items() if name not in task.demands}
        after |= {placement.demand: placement for placement in answer.placements}
        gained = score_of(part, before.values()).cost(part.weights) - score_of(part, after.values()).cost(part.weights)
        if gained >= 0:
            for name in task.demands:
                self.plan.pop(name, None)
            self.plan.update(after)
            self.objective -= gained
        for week in task.weeks:
            self._look_at(week)

    def _look_at(self, week: int) -> None:
        """What each group of the week costs more than it must."""
        known = self.known[week]
        names = self._names((week,))
        part = self.weeks.problem_of(names, self._task((week,), names, 0).beside)
        costs = costs_by_group(part, [self.plan[name] for name in names if name in self.plan])
        excess = {group: cost - known.least.get(group, 0) for group, cost in costs.items()}
        if sum(excess.values()) < sum(known.excess.values()):
            known.tries = 0
        known.excess = excess


def _begin(book: RuleBook, stop: multiprocessing.synchronize.Event) -> None:
    global _solver
    _solver = WeekSolver(book, stop.is_set)


def _solve(what: str, task: Task) -> Answer:
    assert _solver is not None
    answer: Answer = getattr(_solver, what)(task)
    return answer
