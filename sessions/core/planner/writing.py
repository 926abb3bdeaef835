"""The plan as the JSON document of the planning contract."""

from __future__ import annotations

import dataclasses
from typing import Any

from sessions.core.planner.problem import Placement
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.score import score_of
from sessions.core.planner.search import Found


def plan_document(
    book: RuleBook,
    found: Found,
    *,
    seconds: float,
    reasons: dict[str, list[str]],
    unplaced: list[dict[str, Any]],
    warnings: list[dict[str, Any]],
) -> dict[str, Any]:
    """The whole plan; `seconds` is how long it took."""
    return {
        "version": 1,
        "status": "optimal" if found.is_proved else "feasible",
        "objective": found.objective,
        "bound": found.bound,
        "seconds": round(seconds, 2),
        "score": dataclasses.asdict(score_of(book.problem, found.placements)),
        "placed": [_placed(book, placement, reasons[placement.demand]) for placement in found.placements],
        "unplaced": unplaced,
        "warnings": warnings,
    }


def _placed(book: RuleBook, placement: Placement, reasons: list[str]) -> dict[str, Any]:
    item = book.problem.item_of(placement)
    return {
        "demand": placement.demand,
        "start": book.local.text(item.start),
        "end": book.local.text(item.end),
        "venue": placement.venue,
        "coaches": list(placement.coaches),
        "excused": sorted(placement.excused),
        "away": sorted(book.attendance.away[placement.demand]),
        "reasons": reasons,
    }
