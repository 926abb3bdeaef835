"""The rehearsal of a season: which of its weeks cannot hold all their sessions, and the one change that helps most.

A week holds if some plan gives every one of its sessions a place; what a plan costs otherwise does not count here.
Each week is taken alone, beside what already stands in the calendar: a week that cannot hold alone cannot hold at all.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Protocol

from sessions.core.planner.best import best_plan
from sessions.core.planner.changes import Document
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.search import Watch
from sessions.core.rehearsal_changes import (
    MAY_HARM,
    SeasonChange,
    WeekToHold,
    changed_document,
    changes_in,
    season_change,
    with_wider,
)

NOTHING_COSTS = dict.fromkeys(
    ("excused", "moved", "coach_changed", "unpreferred", "tired", "close_pair", "coach_peak"), 0
)
MOST_TRIED = 60
"""How many changes are tried at most, those first that the most weeks asked for."""

Stop = Callable[[], bool]
Tell = Callable[[dict[str, int | str]], None]
Holds = Callable[[Document], bool]


class Solve(Protocol):
    """The planner, as `sessions.core.planner.solve.solve_document` is one."""

    def __call__(self, document: Document, *, should_stop: Stop | None = None) -> dict[str, Any]: ...


class Verdict(StrEnum):
    """`open`: no plan with every session was found in the time, nor that there is none."""

    HOLDS = "holds"
    CANNOT = "cannot"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found about one week. `lost`: of each session without a place the demand, its pattern, and the
    contract's `because` and `would_fit_if`; with `left_out` instead where it could not even be asked for."""

    week: WeekToHold
    verdict: Verdict
    lost: tuple[dict[str, Any], ...] = ()

    def as_json(self) -> dict[str, Any]:
        count = len(self.week.document["demands"]) + len(self.week.left_out)
        return {"monday": self.week.monday, "verdict": self.verdict.value, "demands": count, "lost": list(self.lost)}


@dataclass(frozen=True, slots=True)
class Help:
    """The change that lets most weeks hold, and those weeks."""

    change: SeasonChange
    weeks: tuple[WeekToHold, ...]

    def as_json(self) -> dict[str, Any]:
        """`in_weeks`: by Monday the contract's single changes that it is made of there."""
        in_weeks = {week.monday: changes_in(self.change, week) for week in self.weeks}
        return {"change": self.change.as_json(), "in_weeks": in_weeks}


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """`is_whole` is False where it was stopped: the weeks and changes up to then are told. `candidates` are the changes
    that weeks asked for, `tried` how many of them were tried."""

    findings: tuple[Finding, ...]
    help: Help | None
    candidates: int
    tried: int
    is_whole: bool

    def as_json(self) -> dict[str, Any]:
        """Plain values, as they are kept."""
        return {
            "weeks": [finding.as_json() for finding in self.findings],
            "help": self.help.as_json() if self.help else None,
            "candidates": self.candidates,
            "tried": self.tried,
            "is_whole": self.is_whole,
        }


def rehearse(
    weeks: Sequence[WeekToHold],
    solve: Solve,
    holds: Holds,
    *,
    on_progress: Tell | None = None,
    should_stop: Stop | None = None,
) -> Rehearsed:
    """The verdict on every week, and the change that lets most of the others hold, the least intrusive of equals.

    `solve` answers a document with a plan of the planning contract; `holds` says whether some plan of a document places
    all its demands. `on_progress` gets {"stage": "weeks" | "changes", "done", "of", "cannot"} before each step;
    `should_stop` is asked before each step and by the solver. Raises `ProblemFaults` for a week that is not valid.
    """
    return _Rehearsal(solve, holds, on_progress or (lambda told: None), should_stop or (lambda: False)).run(weeks)


def all_placed(document: Document, *, seconds: float, workers: int, seed: int, should_stop: Stop | None = None) -> bool:
    """Whether a plan of the document with every demand placed was found within `seconds`."""
    book = RuleBook(read_problem(document))
    found = best_plan(book, Watch(seconds, None, should_stop, workers, seed))
    return len(found.placements) == len(book.problem.demands)


def only_places(document: Document) -> Document:
    """The same problem, in which nothing costs but a demand without a place."""
    return {**document, "current": [], "weights": {"unplaced": 1, **NOTHING_COSTS}}


class _Rehearsal:
    """One run: first every week, then the changes that the weeks asked for."""

    def __init__(self, solve: Solve, holds: Holds, tell: Tell, stop: Stop) -> None:
        self.solve, self.holds, self.tell, self.stop = solve, holds, tell, stop
        self.findings: list[Finding] = []
        self.tried = 0
        self.is_stopped = False

    def run(self, weeks: Sequence[WeekToHold]) -> Rehearsed:
        for number, week in enumerate(weeks):
            if self._is_over("weeks", number, len(weeks)):
                break
            finding = self._finding(week)
            if finding is not None:
                self.findings.append(finding)
        candidates = [] if self.is_stopped else self._candidates()
        found = self._best(candidates[:MOST_TRIED])
        return Rehearsed(tuple(self.findings), found, len(candidates), self.tried, not self.is_stopped)

    def _is_over(self, stage: str, done: int, of: int) -> bool:
        """Tell how far it is; True where it shall go no further."""
        cannot = sum(finding.verdict is Verdict.CANNOT for finding in self.findings)
        self.tell({"stage": stage, "done": done, "of": of, "cannot": cannot})
        self.is_stopped = self.is_stopped or self.stop()
        return self.is_stopped

    def _finding(self, week: WeekToHold) -> Finding | None:
        """None where the solver was stopped before it knew."""
        plan = self.solve(only_places(week.document), should_stop=self.stop)
        unasked = [
            {"demand": name, "pattern": week.pattern_of(name), "left_out": reason}
            for name, reason in week.left_out.items()
        ]
        unplaced = [{**row, "pattern": week.pattern_of(row["demand"])} for row in plan["unplaced"]]
        lost = (*unasked, *unplaced)
        if not lost:
            return Finding(week, Verdict.HOLDS)
        is_proved = plan["status"] == "optimal" or bool(unasked)
        if not is_proved and self.stop():
            return None
        return Finding(week, Verdict.CANNOT if is_proved else Verdict.OPEN, lost)

    # The changes

    def _candidates(self) -> list[SeasonChange]:
        """What the weeks asked for, those first that most weeks asked for, then the least intrusive."""
        asked: dict[SeasonChange, set[str]] = defaultdict(set)
        for finding in self.findings:
            for row in finding.lost:
                for offer in row.get("would_fit_if", ()):
                    asked[season_change(offer["change"], finding.week)].add(finding.week.monday)
        found = with_wider(asked)
        support = {change: len(_asking(change, asked)) for change in found}
        return sorted(found, key=lambda change: (-support[change], change.intrusion))

    def _best(self, candidates: Sequence[SeasonChange]) -> Help | None:
        best: Help | None = None
        for number, change in enumerate(candidates):
            if self._is_over("changes", number, len(candidates)):
                break
            self.tried += 1
            best = self._better(best, change)
        return best

    def _better(self, best: Help | None, change: SeasonChange) -> Help | None:
        """The change, if it lets more weeks hold than the best so far, or as many and is less intrusive."""
        least = 1
        if best is not None:
            least = len(best.weeks) + (best.change.intrusion < change.intrusion)
        rows = [
            (finding.week, document)
            for finding in self.findings
            if finding.verdict is not Verdict.HOLDS and not finding.week.left_out
            if (document := changed_document(change, finding.week)) is not None
        ]
        held: list[WeekToHold] = []
        for number, (week, document) in enumerate(rows):
            if len(held) + len(rows) - number < least:
                return best
            if self.stop():
                return best
            if self.holds(only_places(document)):
                held.append(week)
        return Help(change, tuple(held)) if len(held) >= least and not self._harms(change) else best

    def _harms(self, change: SeasonChange) -> bool:
        """Whether a week that holds would no longer, or the work was stopped before that was known."""
        if change.verb not in MAY_HARM:
            return False
        holding = (finding.week for finding in self.findings if finding.verdict is Verdict.HOLDS)
        documents = (changed_document(change, week) for week in holding)
        return any(self.stop() or not self.holds(only_places(one)) for one in documents if one is not None)


def _asking(change: SeasonChange, asked: dict[SeasonChange, set[str]]) -> set[str]:
    """The weeks that asked for the change, or for a time that lies in it."""
    return {monday for one, mondays in asked.items() if _covers(change, one) for monday in mondays}


def _covers(change: SeasonChange, other: SeasonChange) -> bool:
    if change == other:
        return True
    if (change.verb, change.what) != (other.verb, other.what) or not other.spans:
        return False
    return all(any(span.holds(one) for span in change.spans) for one in other.spans)
