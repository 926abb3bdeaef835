"""Pairs of starts that do not go together, as ranges and as cliques.

A *reach* (low, high) says of two starts that they are related just if low < second - first < high. For
one first start the related second starts are then a range of the sorted list, and both ends of the range never go
back as the first start grows.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from sessions.core.planner.limits import needed_gap
from sessions.core.planner.problem import Demand, Kind


@dataclass(frozen=True)
class Clique:
    """Positions [first_from, first_to) of one list of starts, every one related to [second_from, second_to)."""

    first_from: int
    first_to: int
    second_from: int
    second_to: int


@dataclass(frozen=True)
class Reach:
    """`on_same_date`: starts of one local date are related too, whatever lies between them."""

    low: int
    high: int
    on_same_date: bool = False

    def covers(self, other: Reach) -> bool:
        same_date = self.on_same_date or not other.on_same_date
        return self.low <= other.low and self.high >= other.high and same_date


def clash_reach(
    separation: Mapping[tuple[Kind, Kind], int], first: Demand, second: Demand, on_same_date: bool
) -> Reach:
    """When one athlete cannot attend both."""
    return Reach(
        -second.duration_min - needed_gap(separation, second.kinds, first.kinds),
        first.duration_min + needed_gap(separation, first.kinds, second.kinds),
        on_same_date,
    )


def related_ranges(
    first: Sequence[int], second: Sequence[int], reach: Reach, date: Callable[[int], int]
) -> list[tuple[int, int]]:
    """For each first start the range of positions of related second starts."""
    dates = [date(start) for start in second] if reach.on_same_date else []
    found = []
    for start in first:
        begin = bisect_right(second, start + reach.low)
        end = bisect_left(second, start + reach.high)
        if reach.on_same_date:
            today = date(start)
            same = bisect_left(dates, today), bisect_right(dates, today)
            if same[0] < same[1]:
                begin, end = (min(begin, same[0]), max(end, same[1])) if begin < end else same
        found.append((begin, max(begin, end)))
    return found


def cliques(ranges: Sequence[tuple[int, int]]) -> list[Clique]:
    """Cliques that together hold every related pair, none inside another."""
    found: set[Clique] = set()
    runs = _runs(ranges)
    for index, (start, _, begin, end) in enumerate(runs):
        if begin == end:
            continue
        last = index
        while last + 1 < len(runs) and runs[last + 1][2] == begin and runs[last + 1][3] > begin:
            last += 1
        found.add(Clique(start, runs[last][1], begin, end))
        first = index
        while first > 0 and runs[first - 1][3] == end and runs[first - 1][2] < end:
            first -= 1
        found.add(Clique(runs[first][0], runs[index][1], begin, end))
    return sorted(
        (one for one in found if not any(other is not one and _inside(one, other) for other in found)),
        key=lambda clique: (clique.first_from, clique.first_to, clique.second_from, clique.second_to),
    )


def _runs(ranges: Sequence[tuple[int, int]]) -> list[tuple[int, int, int, int]]:
    """(from, to, begin, end) for each run of neighbours with one and the same range."""
    runs: list[tuple[int, int, int, int]] = []
    for position, (begin, end) in enumerate(ranges):
        if runs and runs[-1][2:] == (begin, end):
            runs[-1] = (runs[-1][0], position + 1, begin, end)
        else:
            runs.append((position, position + 1, begin, end))
    return runs


def _inside(one: Clique, other: Clique) -> bool:
    return (
        other.first_from <= one.first_from
        and one.first_to <= other.first_to
        and other.second_from <= one.second_from
        and one.second_to <= other.second_to
    )
