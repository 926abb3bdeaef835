"""Which single change would give a left-out demand a place: found by looking, kept only when a new solve says so."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Container, Iterator, Mapping, Sequence
from itertools import takewhile
from types import MappingProxyType
from typing import Any

from sessions.core.planner.change_ladders import Ladder, Looker, ladders
from sessions.core.planner.changes import Change, Document, changed, sentence
from sessions.core.planner.explain import Explainer
from sessions.core.planner.faults import ProblemFaults
from sessions.core.planner.limits import Rule
from sessions.core.planner.options import Options
from sessions.core.planner.problem import Demand, Fixed, Placement
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.search import Found, Search, Watch, checked
from sessions.core.planner.season_search import is_season
from sessions.core.planner.weeks import Weeks
from sessions.core.planner.weeks_document import document_of_weeks

MOST_OFFERED = 3
# The longest that one question to the solver may take.
_QUESTION_S = 2.0
# How many starts a span of the length of the session is tried at.
_SPANS_TRIED = 4
# What is nearly always enough for one change beside a demand's own weeks of a season.
_ENOUGH_S = 2.0


class ChangeFinder:
    """Looks for changes to one document whose plan is known, within the time of `watch`. Sessions `staying` beside it
    are no part of the document: they stay where they are whatever is changed."""

    def __init__(
        self,
        document: Document,
        book: RuleBook,
        placements: Sequence[Placement],
        watch: Watch,
        unmovable: Container[str] = (),
        staying: Mapping[str, Fixed] = MappingProxyType({}),
    ) -> None:
        self.document = document
        self.book = book
        self.problem = book.problem
        self.placements = placements
        self.watch = watch
        self.unmovable = unmovable
        self.staying = staying
        self.until = 0.0
        self.most = MOST_OFFERED

    def would_fit_if(self, demand: Demand, seconds: float) -> list[dict[str, Any]]:
        """Up to three changes that were tried and hold, the least intrusive kind first.

        First those that need no other session moved; if there are none, any.
        """
        self.until = self.watch.spent + seconds
        looks: tuple[tuple[Looker, bool], ...] = ((self._beside_others, False), (self._with_others, True))
        for look, widely in looks:
            found = list(self._look(demand, look, widely))
            if found:
                return [{"change": change, "text": sentence(self.problem, change)} for change in found]
        return []

    def fill(self, rows: Sequence[dict[str, Any]]) -> None:
        """`would_fit_if` of each row of `unplaced`, the time that is left shared evenly. In a season first one change
        for each beside its own weeks, where few others are lost first; what time is left looks further."""
        weeks = Weeks(self.book)
        if is_season(weeks):
            lost = Counter(week for row in rows for week in weeks.of[row["demand"]])
            rows = sorted(rows, key=lambda row: max((lost[week] for week in weeks.of[row["demand"]]), default=0))
            for row in rows:
                if self.watch.left:
                    demand = self.problem.demands[row["demand"]]
                    row["would_fit_if"] = self._beside_own_weeks(weeks, demand, min(_ENOUGH_S, self.watch.left))
            rows = [row for row in rows if not row["would_fit_if"]]
        for index, row in enumerate(rows):
            if self.watch.left:
                seconds = self.watch.left / (len(rows) - index)
                row["would_fit_if"] = self.would_fit_if(self.problem.demands[row["demand"]], seconds)

    def _beside_own_weeks(self, weeks: Weeks, demand: Demand, seconds: float) -> list[dict[str, Any]]:
        """One change, asked of the weeks that the demand may lie in as a document of their own."""
        names = {name for week in weeks.of[demand.id] for name in weeks.touching[week]}
        if not names:
            return []
        document, near = document_of_weeks(self.document, weeks, names)
        outside = [one for one in self.placements if one.demand not in names]
        inside = [one for one in self.placements if one.demand in names]
        book = RuleBook(read_problem(document))
        staying = weeks.staying(outside, near)
        finder = ChangeFinder(document, book, inside, self.watch, self.unmovable, staying)
        finder.most = 1
        return [row for row in finder.would_fit_if(demand, seconds) if self._spares(outside, row["change"])]

    def _spares(self, outside: Sequence[Placement], change: Change) -> bool:
        """False for an item that is moved to where it breaks a session outside the weeks that were asked."""
        if "move_fixed" not in change:
            return True
        book = self._problem_with(change)
        return book is not None and not book.broken(outside)

    def _look(self, demand: Demand, look: Looker, widely: bool) -> Iterator[Change]:
        """The first of each kind that holds, until there are enough."""
        found = 0
        for of_kind in ladders(self.problem, demand, widely, self.unmovable):
            for ladder in of_kind:
                if found == self.most or self._is_over():
                    return
                change = self._gentlest(demand, ladder, look)
                if change is not None:
                    found += 1
                    yield change
                    break

    def _is_over(self) -> bool:
        return self.watch.spent >= self.until or not self.watch.left

    def _gentlest(self, demand: Demand, ladder: Ladder, look: Looker) -> Change | None:
        """The gentlest change of a ladder that holds; a stronger one allows all that a gentler one does."""
        steps = list(ladder)
        starts = look(demand, steps[-1])
        if not starts:
            return None
        narrow = self._narrowed(demand, steps[-1], starts)
        if narrow is not None:
            return next((change for change in narrow if self._holds(demand, change)), None)
        low, high = 0, len(steps) - 1
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if look(demand, steps[middle]) else (middle + 1, high)
        return next((change for change in steps[low:] if self._holds(demand, change)), None)

    def _narrowed(self, demand: Demand, change: Change, starts: list[int]) -> list[Change] | None:
        """For a time that is added: the length of the session alone at starts that were found, then all of it."""
        ((verb, what),) = change.items()
        if not isinstance(what, dict) or "end" not in what:
            return None
        text = self.problem.local.text
        some = starts[:: max(1, len(starts) // _SPANS_TRIED)]
        spans = ({"start": text(start), "end": text(start + demand.duration_min)} for start in some)
        return [*({verb: {**what, **span}} for span in spans), change]

    def _problem_with(self, change: Change) -> RuleBook | None:
        """The rules of the changed problem, None if it would not be valid."""
        try:
            problem = read_problem(changed(self.document, change))
        except ProblemFaults:
            return None
        return RuleBook(dataclasses.replace(problem, fixed={**problem.fixed, **self.staying}))

    def _beside_others(self, demand: Demand, change: Change) -> list[int]:
        """Starts of the changed problem that nothing blocks while all others stay where they are."""
        book = self._problem_with(change)
        if book is None or (_may_break(change) and book.broken(self.placements)):
            return []
        book = self._near(book, demand)
        explainer = Explainer(book, [one for one in self.placements if one.demand in book.problem.demands])
        changed_demand = book.problem.demands[demand.id]
        starts = takewhile(lambda _: not self._is_over(), book.problem.starts[demand.id])
        return [start for start in starts if explainer.block(changed_demand, start).rule is Rule.COST]

    def _with_others(self, demand: Demand, change: Change) -> list[int]:
        """A start found by placing everything anew, all that was placed and the demand."""
        book = self._problem_with(change)
        found = None if book is None else self._all_placed(Options(self._near(book, demand)), demand)
        return [one.start for one in found.placements if one.demand == demand.id] if found is not None else []

    def _needed(self, demand: Demand) -> set[str]:
        return {placement.demand for placement in self.placements} | {demand.id}

    def _seconds(self) -> float:
        return min(_QUESTION_S, self.until - self.watch.spent, self.watch.left)

    def _near(self, book: RuleBook, demand: Demand) -> RuleBook:
        """Of many weeks those that the demand may lie in, all else staying where it is."""
        weeks = Weeks(book)
        if not is_season(weeks):
            return book
        names = {name for week in weeks.of[demand.id] for name in weeks.touching[week]}
        return RuleBook(weeks.problem_of(names, [one for one in self.placements if one.demand not in names]))

    def _all_placed(self, options: Options, demand: Demand) -> Found | None:
        """A plan with the demand and every demand placed before."""
        book = options.book
        search = Search(options)
        for name in self._needed(demand) & book.problem.demands.keys():
            search.model.add(search.plan.left_out[name] == 0)
        search.hint(self.placements)
        outcome = search.run(self.watch, self._seconds(), linearization_level=0, num_workers=1)
        return None if outcome.placements is None else checked(book, outcome.placements)

    def _holds(self, demand: Demand, change: Change) -> bool:
        """Tries the change: a new solve places the demand and every demand placed before."""
        book = None if self._is_over() else self._problem_with(change)
        if book is None:
            return False
        book = self._near(book, demand)
        found = self._placed_beside(book, demand) or self._all_placed(Options(book), demand)
        return found is not None and self._is_chosen(book, demand, found)

    def _placed_beside(self, book: RuleBook, demand: Demand) -> Found | None:
        """A plan with the demand in which every demand placed before stays where it is."""
        others = [one for one in self.placements if one.demand in book.problem.demands]
        part = Options(RuleBook(Weeks(book).problem_of({demand.id}, others)))
        found = self._all_placed(part, demand)
        return None if found is None else checked(book, [*others, *found.placements])

    def _is_chosen(self, book: RuleBook, demand: Demand, found: Found) -> bool:
        """False if a cheaper plan of the changed problem than `found` leaves one of the needed demands out."""
        needed = self._needed(demand) & book.problem.demands.keys()
        least = min(book.problem.demands[name].priority for name in needed) * book.problem.weights.unplaced
        if found.objective < least:
            return True
        search = Search(Options(book))
        search.cheaper_than(found.objective)
        search.model.add_bool_or([search.plan.left_out[name] for name in sorted(needed)])
        other = search.run(self.watch, self._seconds()).placements
        return other is None or checked(book, other) is None


def _may_break(change: Change) -> bool:
    """False for changes that only add time or take an item away, so that what is placed can stay."""
    return not change.keys() & {"add_window", "add_available", "add_open", "drop_fixed"}
