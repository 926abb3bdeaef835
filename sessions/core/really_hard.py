"""Sessions that were harder than planned: what their runners reported makes them hard from then on."""

from __future__ import annotations

import statistics
from collections.abc import Collection, Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class HardRule:
    """From which effort on the whole session (0 to 10) it counts as hard; and for a whole group, from how many reports
    and from which share (percent) of those who came. The defaults are common practice, no source; a club can change
    them."""

    from_rpe: int = 7
    least_reports: int = 3
    least_percent: int = 50


@dataclass(frozen=True)
class Report:
    """One athlete's effort for one session, 0 to 10. `in_words`: given as one of the four words of the under 13."""

    athlete: str
    rpe: int
    in_words: bool = False


@dataclass(frozen=True)
class Hardness:
    """For whom a session was hard: `alone` reported it so; `is_group_hard` holds for everybody. `reports` are the
    numbers that could be weighed together, of `came` who came."""

    alone: frozenset[str] = frozenset()
    is_group_hard: bool = False
    reports: int = 0
    came: int = 0


def may_turn_hard(kinds: Collection[str]) -> bool:
    """Whether a session was planned easy or moderate: only such a session can have been harder than planned."""
    return not set(kinds) & {"hard", "meet"} and bool(set(kinds) & {"easy", "moderate"})


def hardness(reports: Iterable[Report], came: int, rule: HardRule) -> Hardness:
    """For whom a session planned easy or moderate was hard.

    For an athlete alone at once, from `rule.from_rpe` on. For the group where the median of at least
    `rule.least_reports` numbers, from at least `rule.least_percent` per cent of the `came` athletes, reaches it. Words
    are no numbers: they count for their athlete alone and never in the median, its number or its share.
    Common practice, no source.
    """
    listed = list(reports)
    numbers = [report.rpe for report in listed if not report.in_words]
    is_enough = len(numbers) >= rule.least_reports and len(numbers) * 100 >= rule.least_percent * came
    return Hardness(
        alone=frozenset(report.athlete for report in listed if report.rpe >= rule.from_rpe),
        is_group_hard=is_enough and bool(numbers) and statistics.median(numbers) >= rule.from_rpe,
        reports=len(numbers),
        came=came,
    )
