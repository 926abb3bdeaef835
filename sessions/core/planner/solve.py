"""The doorway of the planner: a problem document in, a plan document out."""

from __future__ import annotations

from collections.abc import Callable, Container
from typing import Any

from sessions.core.planner.best import best_plan
from sessions.core.planner.explain import Explainer, warnings
from sessions.core.planner.reading import read_problem
from sessions.core.planner.reasons import reasons_of
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.search import Progress, Watch
from sessions.core.planner.would_fit import ChangeFinder
from sessions.core.planner.writing import plan_document

__all__ = ["read_problem", "solve_document"]


def solve_document(
    document: dict[str, Any],
    *,
    seconds: float = 20.0,
    workers: int = 2,
    seed: int = 1,
    on_progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
    unmovable: Container[str] = (),
) -> dict[str, Any]:
    """The best plan found within `seconds`, as the planning contract's JSON document.

    `on_progress` gets {"best", "bound", "seconds"} and `should_stop` is asked, both about once a second and both in the
    calling thread; once it says True the best plan so far is returned. Fixed items in `unmovable` are not the club's:
    no change that is offered moves or drops them. Raises `ProblemFaults` with every fault.
    """
    watch = Watch(seconds, on_progress, should_stop, workers, seed)
    book = RuleBook(read_problem(document))
    found = best_plan(book, watch)
    watch.note(found.objective, found.bound)
    placed = {placement.demand for placement in found.placements}
    explainer = Explainer(book, found.placements)
    unplaced: list[dict[str, Any]] = [
        {"demand": demand.id, "because": explainer.because(demand), "would_fit_if": []}
        for demand in book.problem.demands.values()
        if demand.id not in placed
    ]
    ChangeFinder(document, book, found.placements, watch, unmovable).fill(unplaced)
    return plan_document(
        book,
        found,
        seconds=watch.spent,
        reasons=reasons_of(book, found.placements),
        unplaced=unplaced,
        warnings=warnings(book),
    )
