"""A large plan mended piece by piece: a few demands are placed anew beside all the others, which stay."""

from __future__ import annotations

from collections import Counter

from sessions.core.planner.bounds import Bounds
from sessions.core.planner.options import Options
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.score import score_of
from sessions.core.planner.search import Found, Outcome, Search, Watch, better, checked, run_each
from sessions.core.planner.week_solver import STEP_MIN, costs_by_group, minimise_above, thinned
from sessions.core.planner.weeks import Weeks

Names = frozenset[str]
_PIECE_S = 1.5
# Groups placed anew together, and how often a group is tried before it is left.
_TOGETHER = 4
_MOST_TRIES = 40


class Sweeps:
    """Goes round the groups that lose a session which alone they would not lose, those least tried first."""

    def __init__(self, options: Options, bounds: Bounds, watch: Watch, best: Found) -> None:
        self.options, self.watch, self.best = options, watch, best
        self.book, self.problem = options.book, options.problem
        self.weeks = Weeks(options.book)
        self.least = bounds.alone
        self.tries: Counter[str] = Counter()
        self.piece_s = _PIECE_S
        self.own: dict[str, Names] = {
            group: frozenset(name for name, demand in self.problem.demands.items() if demand.group == group)
            for group in dict.fromkeys(demand.group for demand in self.problem.demands.values())
        }

    def run(self, seconds: float) -> Found:
        """The best plan after so many seconds, or once no group is worth another try."""
        until = self.watch.spent + seconds
        while self.watch.left and self.watch.spent < until:
            pieces = self._pieces()
            if not pieces:
                break
            searches = [self._search(names) for names in pieces]
            some_s = min(self.piece_s, max(0.1, until - self.watch.spent))
            outcomes = run_each(searches, self.watch, some_s, at_once=self.watch.workers, **self._settings())
            for names, outcome in zip(pieces, outcomes, strict=True):
                self._adopt(names, outcome)
            if all(outcome.placements is None for outcome in outcomes):
                self.piece_s *= 2  # a machine too busy for that
            self.watch.note(self.best.objective)
        return self.best

    def _settings(self) -> dict[str, float]:
        """One worker a piece, and no time for costs below that of a lost session."""
        most = max(0, self.problem.weights.unplaced - 1)
        return {"num_workers": 1, "linearization_level": 1, "absolute_gap_limit": most}

    def _pieces(self) -> list[Names]:
        """One piece for each worker, none of which share a demand."""
        costs = costs_by_group(self.problem, self.best.placements)
        excess = {group: cost - self.least.get(group, 0) for group, cost in costs.items()}
        losing = [group for group, more in excess.items() if more >= max(1, self.problem.weights.unplaced)]
        found: list[Names] = []
        for group in sorted(losing, key=lambda group: (self.tries[group], -excess[group])):
            names = self._piece(group)
            if self.tries[group] < _MOST_TRIES and not any(names & other for other in found):
                self.tries[group] += 1
                found.append(names)
            if len(found) == self.watch.workers:
                break
        return found

    def _piece(self, group: str) -> Names:
        """First the group alone; then, by turns, with what lies on one of its dates, and with other groups."""
        turn, own = self.tries[group], self.own[group]
        if turn == 0:
            return own
        if turn % 2:
            dates = sorted({option.date for name in own for option in self.options.of[name]})
            return own | self._placed_on(dates[turn // 2 % len(dates)], own) if dates else own
        groups = list(self.own)
        groups = groups[groups.index(group) + 1 :] + groups[: groups.index(group)]
        begin = (turn // 2 - 1) * (_TOGETHER - 1)
        others = (groups[(begin + step) % len(groups)] for step in range(_TOGETHER - 1 if groups else 0))
        return own.union(*(self.own[other] for other in others))

    def _placed_on(self, date: int, own: Names) -> Names:
        """What lies on the date at one of the venues of these demands."""
        venues = {venue for name in own for venue in self.problem.demands[name].venues}
        placed = (one for one in self.best.placements if one.venue in venues)
        return frozenset(one.demand for one in placed if self.book.local.date(one.start) == date)

    def _search(self, names: Names) -> Search:
        staying = [one for one in self.best.placements if one.demand not in names]
        moving = [one for one in self.best.placements if one.demand in names]
        part = Options(RuleBook(self.weeks.problem_of(names, staying)))
        search = Search(thinned(part.on_dates_of(()), STEP_MIN, moving))
        minimise_above(search, self._bounds_of(names), 0)
        search.hint(moving)
        return search

    def _bounds_of(self, names: Names) -> Bounds:
        """What is known of the groups that belong to the piece whole."""
        groups = {self.problem.demands[name].group for name in names}
        least = {
            frozenset({group}): self.least.get(group, 0) if self.own[group] <= names else 0 for group in sorted(groups)
        }
        return Bounds(least, list(least))

    def _adopt(self, names: Names, outcome: Outcome) -> None:
        """The piece's new places, where the plan as a whole keeps the rules and is cheaper with them."""
        if outcome.placements is not None:
            plan = [*(one for one in self.best.placements if one.demand not in names), *outcome.placements]
            if score_of(self.problem, plan).cost(self.problem.weights) < self.best.objective:
                self.best = better(self.best, checked(self.book, plan))
