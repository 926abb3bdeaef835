"""What a plan costs, counted from the contract's definitions and nothing else."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from sessions.core.planner.problem import STRENUOUS, Item, Kind, Placement, Problem, Weights

PairTest = Callable[[Problem, str, Item, Item], bool]


@dataclass(frozen=True)
class Score:
    """The counts before the weights (of `unplaced` the sum of priorities)."""

    unplaced: int = 0
    excused: int = 0
    moved: int = 0
    coach_changed: int = 0
    unpreferred: int = 0
    tired: int = 0
    close_pair: int = 0
    coach_peak: int = 0

    def cost(self, weights: Weights) -> int:
        return sum(count * getattr(weights, name) for name, count in dataclasses.asdict(self).items())


def score_of(problem: Problem, placements: Iterable[Placement]) -> Score:
    """The score of a plan. The plan itself is not checked."""
    placed = list(placements)
    done = {placement.demand for placement in placed}
    items = [problem.item_of(placement) for placement in placed]
    return Score(
        unplaced=sum(demand.priority for demand in problem.demands.values() if demand.id not in done),
        excused=sum(len(placement.excused) for placement in placed),
        moved=sum(moves(problem, placement.demand, placement.start, placement.venue) for placement in placed),
        coach_changed=sum(changed_coaches(problem, placement.demand, placement.coaches) for placement in placed),
        unpreferred=sum(is_unpreferred(problem, placement.demand, placement.start) for placement in placed),
        tired=sum(_group_pairs(problem, items, is_tired)),
        close_pair=sum(_group_pairs(problem, items, is_close)),
        coach_peak=_coach_peak(problem, items),
    )


def moves(problem: Problem, demand: str, start: int, venue: str) -> int:
    """0, 1 for another start or venue than the current one, 2 if the date is another too."""
    current = problem.current.get(demand)
    if current is None or (current.start, current.venue) == (start, venue):
        return 0
    return 1 if problem.local.date(current.start) == problem.local.date(start) else 2


def changed_coaches(problem: Problem, demand: str, coaches: Sequence[str]) -> int:
    current = problem.current.get(demand)
    return 0 if current is None else sum(coach not in current.coaches for coach in coaches)


def is_unpreferred(problem: Problem, demand: str, start: int) -> bool:
    preferred = problem.demands[demand].preferred
    return bool(preferred) and not any(span.start <= start < span.end for span in preferred)


def is_tired(problem: Problem, group: str, one: Item, other: Item) -> bool:
    """True if one is a placed technique session and the other strenuous and too short a time before it."""
    return _is_tired_after(problem, group, one, other) or _is_tired_after(problem, group, other, one)


def _is_tired_after(problem: Problem, group: str, technique: Item, before: Item) -> bool:
    if technique.is_fixed or Kind.TECHNIQUE not in technique.kinds or not before.kinds & STRENUOUS:
        return False
    return 0 <= technique.start - before.end < problem.groups[group].policy.fresh_after_min


def is_close(problem: Problem, group: str, one: Item, other: Item) -> bool:
    """True for two technique sessions of the group with less than the ideal time between them."""
    if Kind.TECHNIQUE not in one.kinds or Kind.TECHNIQUE not in other.kinds:
        return False
    between = max(one.start - other.end, other.start - one.end)
    return between < problem.groups[group].policy.ideal_between_technique_min


def _group_pairs(problem: Problem, items: list[Item], test: PairTest) -> Iterable[bool]:
    """The test on each pair of one group's items of which at least one is placed and that are near enough to count."""
    for group, row in problem.groups.items():
        placed = sorted((item for item in items if group in item.groups), key=lambda item: item.start)
        fixed = [each.item for each in problem.fixed.values() if group in each.item.groups] if placed else []
        reach = max(row.policy.fresh_after_min, row.policy.ideal_between_technique_min)
        for position, one in enumerate(placed):
            for other in placed[position + 1 :]:
                if other.start - one.end >= reach:
                    break
                yield test(problem, group, one, other)
            for other in fixed:
                if other.start < one.end + reach and one.start < other.end + reach:
                    yield test(problem, group, one, other)


def _coach_peak(problem: Problem, items: list[Item]) -> int:
    led: Counter[tuple[int, str]] = Counter()
    for item in items:
        led.update((problem.local.week(item.start), coach) for coach in item.coaches)
    peaks: dict[int, int] = {}
    for (week, _), count in led.items():
        peaks[week] = max(count, peaks.get(week, 0))
    return sum(peaks.values())
