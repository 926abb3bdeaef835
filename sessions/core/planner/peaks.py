"""The least that coach peaks can cost: how evenly the sessions of a week can be shared out among those who may lead."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from sessions.core.planner.bounds import Bounds
from sessions.core.planner.local_time import week_of
from sessions.core.planner.options import Options


def peak_bound(options: Options, bounds: Bounds, room: int) -> int:
    """The least that coach peaks cost in a plan no dearer than `room` above the groups' bounds.

    A demand that costs more than that to leave out, beside all other groups at their least, must be placed. Of those
    that can lie in one ISO week only, each is led by some of the coaches who could lead it at one of its starts.
    """
    weights = options.problem.weights
    needed: dict[int, list[tuple[int, frozenset[str]]]] = defaultdict(list)
    dearer: dict[tuple[str, int], bool] = {}
    whole = bounds.whole
    for demand in options.problem.demands.values():
        weeks = {week_of(option.date) for option in options.of[demand.id]}
        left_out = demand.group, weights.unplaced * demand.priority
        if left_out not in dearer:
            dearer[left_out] = bounds.whole_if(dict([left_out])) > whole + room
        if len(weeks) == 1 and dearer[left_out]:
            able = frozenset[str]().union(*(some for option in options.of[demand.id] for some in option.coaches))
            needed[weeks.pop()].append((demand.observers, able))
    return sum(weights.coach_peak * least_peak(needs) for needs in needed.values())


def least_peak(needs: Sequence[tuple[int, frozenset[str]]]) -> int:
    """The smallest number of sessions that the busiest coach leads when each need (how many, of whom) is met.

    Times are left aside, so it is never more than in a plan. A need for more coaches than there are counts as all.
    Found by augmenting paths: a higher peak is allowed only where no exchange of coaches meets the next need.
    """
    share = _Share(needs)
    for need, (observers, able) in enumerate(needs):
        for _ in range(min(observers, len(able))):
            while not share.give(need, set()):
                share.peak += 1
    return share.peak


class _Share:
    """Who leads which needs so far, nobody more than `peak`."""

    def __init__(self, needs: Sequence[tuple[int, frozenset[str]]]) -> None:
        self.able = [sorted(able) for _, able in needs]
        self.led: dict[str, set[int]] = defaultdict(set)
        self.peak = 0

    def give(self, need: int, seen: set[str]) -> bool:
        """One more coach for a need; somebody whose hands are full may pass another need on."""
        for coach in self.able[need]:
            if coach in seen or need in self.led[coach]:
                continue
            seen.add(coach)
            if len(self.led[coach]) < self.peak or self._passes_on(coach, seen):
                self.led[coach].add(need)
                return True
        return False

    def _passes_on(self, coach: str, seen: set[str]) -> bool:
        for other in sorted(self.led[coach]):
            if self.give(other, seen):
                self.led[coach].discard(other)
                return True
        return False
