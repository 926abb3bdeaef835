"""Which of the changes that the planner offers can really be made: nothing begun is moved, nothing past opened."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from sessions.core.stretches import Stretch


def with_what_can_still_be(
    plan: Mapping[str, Any],
    fixed: Mapping[str, datetime],
    now: datetime,
    weeks: Mapping[str, Stretch],
    can_begin: Callable[[str, datetime], bool],
) -> dict[str, Any]:
    """The plan of the planning contract without offers (`would_fit_if`) that come too late, or that move a session out
    of the week whose plan it belongs to, or to where it cannot be.

    `fixed`: the start of each fixed item of the problem by id; `weeks`: of those that another week's plan placed, that
    week; `can_begin`: whether an item could begin then. All are aware instants.
    """

    def stays(change: Mapping[str, Any]) -> bool:
        return _is_to_come(change, fixed, now) and _is_in_week(change, weeks) and _can_be(change, can_begin)

    unplaced = [
        {**row, "would_fit_if": [offer for offer in row["would_fit_if"] if stays(offer["change"])]}
        for row in plan["unplaced"]
    ]
    return {**plan, "unplaced": unplaced}


def _is_in_week(change: Mapping[str, Any], weeks: Mapping[str, Stretch]) -> bool:
    what = change.get("move_fixed")
    if what is None or what["id"] not in weeks:
        return True
    begins, ends = weeks[what["id"]]
    return begins <= datetime.fromisoformat(what["start"]) < ends


def _can_be(change: Mapping[str, Any], can_begin: Callable[[str, datetime], bool]) -> bool:
    what = change.get("move_fixed")
    return what is None or can_begin(what["id"], datetime.fromisoformat(what["start"]))


def _is_to_come(change: Mapping[str, Any], fixed: Mapping[str, datetime], now: datetime) -> bool:
    ((verb, what),) = change.items()
    if verb == "drop_fixed":
        return fixed[what] > now
    if verb == "move_fixed" and fixed[what["id"]] <= now:
        return False
    return "start" not in what or datetime.fromisoformat(what["start"]) > now
