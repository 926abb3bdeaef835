"""How the best plan is found and proved: bounds by group, then a plan that meets them, then the whole objective."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from sessions.core.planner.bounds import BoundFinder, Bounds, proving_together
from sessions.core.planner.options import Options
from sessions.core.planner.peaks import peak_bound
from sessions.core.planner.problem import Placement
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.search import Found, Search, Watch, better, checked, nothing_placed
from sessions.core.planner.season_search import is_season, season_plan
from sessions.core.planner.sweeps import Sweeps
from sessions.core.planner.week_solver import QUICK, STEP_MIN, thinned
from sessions.core.planner.weeks import Weeks

# Of the time that is left, for the whole objective; the rest explains what stays without a place.
_SHARE_OF_SEARCH = 0.8
_SHARE_OF_CONFIRMING = 0.25
# The same for mending where groups are linked, for there other ways find more; and of the whole time, what is too
# little to build one more model of a large problem.
_SHARE_OF_MENDING = 0.3
_SHARE_OF_TELLING = 0.2
# From so many demands on, a plan that loses sessions is mended piece by piece before the whole is searched.
_LARGE = 60

Attempt = Callable[[Options, Watch, BoundFinder, Found], Found | None]


def best_plan(book: RuleBook, watch: Watch) -> Found:
    """The best plan the time allows. Whatever the solver says is checked by the rules before it counts."""
    weeks = Weeks(book)
    if is_season(weeks):
        return season_plan(book, weeks, watch)
    options = Options(book)
    found = _proved_or_best(options, watch)
    if len(found.placements) < len(book.problem.demands) and found.is_proved and watch.left:
        return _confirmed(options, watch, found)
    return found


def _proved_or_best(options: Options, watch: Watch) -> Found:
    """Plans near what the groups would like best alone, then one that meets their bounds, then any."""
    best = better(nothing_placed(options.book), _in_place(options, watch))
    if options.problem.current:
        watch.note(best.objective, 0)
        watch.ask()
    finder = BoundFinder(options, watch)
    bounds = finder.find_apart()
    for attempt in _attempts(finder):
        best = _bounded(options, bounds, better(best, attempt(options, watch, finder, best)))
        watch.note(best.objective, best.bound)
        if best.is_proved or not watch.left or (_is_large(options) and watch.left < _SHARE_OF_TELLING * watch.seconds):
            return best
    search = Search(options)
    search.cost_at_least(bounds.least)
    search.peaks_at_least(peak_bound(options, bounds, best.objective - bounds.whole))
    search.minimise()
    search.hint(best.placements)
    outcome = search.run(watch, _SHARE_OF_SEARCH * watch.left, **proving_together(watch.workers))
    if outcome.placements is None:
        return best.with_bound(max(best.bound, outcome.bound or 0))
    found = checked(options.book, outcome.placements)
    if found is None:
        return _solved_plainly(options, watch, best)
    best = _bounded(options, bounds, better(best, found))
    return best.with_bound(max(best.bound, outcome.bound or 0))


def _attempts(finder: BoundFinder) -> list[Attempt]:
    """Where groups are linked, what keeps their dates; else what meets every bound."""
    mending = [_roughly, _mended] if _is_large(finder.options) else []
    if not finder.is_done:
        return [*mending, _on_own_dates, _together, _on_own_dates, _on_linked_dates]
    if len(finder.bounds.clusters) < len(finder.demands):
        return [*mending, _on_own_dates, _on_linked_dates, _meeting]
    return [*mending, _on_own_dates, _meeting]


def _is_large(options: Options) -> bool:
    return len(options.problem.demands) > _LARGE


def _bounded(options: Options, bounds: Bounds, best: Found) -> Found:
    """The bound that follows from the groups' bounds; the cheaper the best plan, the more must be placed in a better
    one, and the more coaches lead at least."""
    return best.with_bound(bounds.whole + peak_bound(options, bounds, best.objective - bounds.whole))


def _solved_plainly(options: Options, watch: Watch, best: Found) -> Found:
    """After an answer that broke a rule: the solver again without its presolve, and none of its bounds believed."""
    search = Search(options)
    search.minimise()
    outcome = search.run(watch, _SHARE_OF_SEARCH * watch.left, cp_model_presolve=False)
    found = None if outcome.placements is None else checked(options.book, outcome.placements)
    return better(best.with_bound(0), found)


def _confirmed(options: Options, watch: Watch, found: Found) -> Found:
    """Before anybody reads that a session has no place: asks again without presolve for anything cheaper."""
    search = Search(options)
    search.cheaper_than(found.objective)
    seconds = watch.left * _SHARE_OF_CONFIRMING
    outcome = search.run(watch, seconds, cp_model_presolve=False, symmetry_level=0, random_seed=watch.seed % 2**31 + 1)
    other = None if outcome.placements is None else checked(options.book, outcome.placements)
    return found if other is None else other


def _in_place(options: Options, watch: Watch) -> Found | None:
    """A first answer where a plan is in force: what can stay where it is stays, and the rest is placed beside it."""
    current = options.problem.current
    if not current:
        return None
    search = Search(options.at_starts({name: place.start for name, place in current.items()}))
    search.minimise()
    outcome = search.run(watch, watch.left / 8, num_workers=1, linearization_level=0)
    return None if outcome.placements is None else checked(options.book, outcome.placements)


def _on_own_dates(options: Options, watch: Watch, finder: BoundFinder, best: Found) -> Found | None:
    """The best plan in which every demand lies on the date that it has in its cluster's own best plan."""
    return _on_dates_of(options, watch, finder.placements, best, num_workers=1, linearization_level=1)


def _on_linked_dates(options: Options, watch: Watch, finder: BoundFinder, best: Found) -> Found | None:
    """The same, but only the demands of linked groups are held."""
    return _on_dates_of(options, watch, finder.linked_placements, best, **proving_together(watch.workers))


def _on_dates_of(
    options: Options, watch: Watch, placements: Sequence[Placement], best: Found, **settings: Any
) -> Found | None:
    search = Search(options.on_dates_of(placements))
    search.minimise()
    search.hint(best.placements or placements)
    outcome = search.run(watch, watch.left / 4, **settings)
    return None if outcome.placements is None else checked(options.book, outcome.placements)


def _together(_options: Options, _watch: Watch, finder: BoundFinder, _best: Found) -> None:
    """No plan, but the bounds of clusters."""
    finder.find_together()


def _roughly(options: Options, watch: Watch, finder: BoundFinder, best: Found) -> Found | None:
    """A plan on those dates at half hours of the wall, found soon: something to mend."""
    search = Search(thinned(options.on_dates_of(finder.placements), STEP_MIN, best.placements))
    search.minimise()
    search.hint(best.placements or finder.placements)
    outcome = search.run(watch, watch.left / 10, **QUICK)
    return None if outcome.placements is None else checked(options.book, outcome.placements)


def _mended(options: Options, watch: Watch, finder: BoundFinder, best: Found) -> Found:
    """The plan after sweeps through the groups that lost a session which alone they would not lose."""
    is_linked = len(finder.bounds.clusters) < len(finder.demands)
    share = _SHARE_OF_MENDING if is_linked else _SHARE_OF_SEARCH
    return Sweeps(options, finder.bounds, watch, best).run(share * watch.left)


def _meeting(options: Options, watch: Watch, finder: BoundFinder, _best: Found) -> Found | None:
    """A plan in which every cluster of groups costs no more than its bound, if one is found soon."""
    bounds = finder.bounds
    search = Search(options)
    search.cost_at_most({cluster: bounds.of(cluster) for cluster in bounds.clusters}, peak_bound(options, bounds, 0))
    outcome = search.run(watch, watch.left / 3, num_workers=1, linearization_level=0)
    return None if outcome.placements is None else checked(options.book, outcome.placements)
