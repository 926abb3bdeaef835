"""Three seasons to start from: weeks shared among phases, and what a week holds (common practice, no source).

They are a beginning to be changed, not advice for anybody.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

GENERAL, SPECIFIC, COMPETITION, TAPER, TRANSITION = "general", "specific", "competition", "taper", "transition"


@dataclass(frozen=True, slots=True)
class Starter:
    """Phases in order, each with its share of the season's weeks; a taper is two weeks, whatever the share."""

    key: str
    phases: tuple[tuple[str, int], ...]


STARTERS: tuple[Starter, ...] = (
    Starter("one_peak", ((GENERAL, 9), (SPECIFIC, 9), (COMPETITION, 10), (TAPER, 2), (TRANSITION, 3))),
    Starter(
        "two_peaks",
        (
            (GENERAL, 6), (SPECIFIC, 5), (COMPETITION, 5), (TRANSITION, 1), (GENERAL, 4), (SPECIFIC, 5),
            (COMPETITION, 8), (TAPER, 2), (TRANSITION, 3),
        ),
    ),
    Starter("school_year", ((GENERAL, 8), (COMPETITION, 6), (TRANSITION, 2))),
)  # fmt: skip
TAPER_WEEKS = 2
LEAST_WEEKS = 12

Session = tuple[str, int, int]
"""Kind, minutes, priority."""
WEEKS: dict[str, dict[str, tuple[Session, ...]]] = {
    "sprint": {
        GENERAL: (("technique", 60, 3), ("moderate", 75, 2), ("easy", 60, 1)),
        SPECIFIC: (("technique", 60, 3), ("hard", 75, 2), ("easy", 60, 1)),
        COMPETITION: (("technique", 60, 3), ("hard", 60, 2), ("easy", 45, 1)),
        TAPER: (("technique", 45, 3), ("hard", 30, 2), ("easy", 20, 1)),
        TRANSITION: (("technique", 45, 2), ("easy", 45, 2)),
    },
    "distance": {
        GENERAL: (("technique", 45, 3), ("moderate", 75, 2), ("easy", 60, 1)),
        SPECIFIC: (("technique", 45, 3), ("hard", 75, 2), ("easy", 60, 1)),
        COMPETITION: (("technique", 45, 3), ("hard", 60, 2), ("easy", 45, 1)),
        TAPER: (("technique", 30, 3), ("hard", 30, 2), ("easy", 20, 1)),
        TRANSITION: (("technique", 45, 2), ("easy", 45, 2)),
    },
    "youth": {
        GENERAL: (("technique", 60, 3), ("easy", 60, 2)),
        SPECIFIC: (("technique", 60, 3), ("moderate", 60, 2)),
        COMPETITION: (("technique", 60, 3), ("easy", 60, 2)),
        TAPER: (("technique", 60, 3), ("easy", 60, 2)),
        TRANSITION: (("technique", 45, 2),),
    },
}
"""By discipline and phase a week's sessions. The young have no taper: their taper weeks are weeks like the others."""


def phases_of(starter: Starter, weeks: int) -> list[tuple[str, int, int]]:
    """Aim, first and last week of each phase, together all `weeks` of the season, each at least one week.

    Raises ValueError for a season of fewer than 12 weeks.
    """
    if weeks < LEAST_WEEKS:
        raise ValueError(weeks)
    lengths = _shared([share for _aim, share in starter.phases], [aim for aim, _share in starter.phases], weeks)
    found, first = [], 1
    for (aim, _share), length in zip(starter.phases, lengths, strict=True):
        found.append((aim, first, first + length - 1))
        first += length
    return found


def sessions_of(discipline: str, aim: str) -> Sequence[Session]:
    """A week's sessions of a group in a phase."""
    return WEEKS[discipline][aim]


def _shared(shares: list[int], aims: list[str], weeks: int) -> list[int]:
    """Whole weeks by share, the largest remainders rounded up; a taper keeps its two weeks."""
    fixed = {number: TAPER_WEEKS for number, aim in enumerate(aims) if aim == TAPER}
    free = [number for number in range(len(shares)) if number not in fixed]
    left, whole = weeks - sum(fixed.values()), sum(shares[number] for number in free)
    exact = {number: left * shares[number] / whole for number in free}
    found: dict[int, int] = fixed | {number: max(1, int(exact[number])) for number in free}
    order = sorted(free, key=lambda number: (found[number] - exact[number], number))
    step = 0
    while sum(found.values()) != weeks:
        if sum(found.values()) < weeks:
            found[order[step % len(order)]] += 1
        else:
            longest = max(free, key=lambda number: (found[number], -number))
            found[longest] -= 1
        step += 1
    return [found[number] for number in range(len(shares))]


def pattern_row(
    new_id: str, phase: str, group: str, session: Session, order: int, venues: list[str], coaches: list[str]
) -> dict[str, Any]:
    """One session of a starter as a row of the season's document; when in the week is left to the planner."""
    kind, minutes, priority = session
    return {
        "id": new_id, "phase": phase, "group": group, "kind": kind, "also": [], "duration_min": minutes,
        "priority": priority, "lanes": 2, "observers": 1, "order": order, "usual_weekday": None, "usual_from": None,
        "usual_until": None, "venues": venues, "coaches": coaches, "qualified": [],
    }  # fmt: skip
