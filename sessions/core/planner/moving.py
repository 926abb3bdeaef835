"""Whether a session that stands in the calendar could really begin at another time."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from sessions.core.planner.attendance import Attendance
from sessions.core.planner.limits import coach_obstacles, is_coach_available, lanes_in_use, lies_in_one
from sessions.core.planner.problem import Item, Problem


def can_begin(problem: Problem, parts: Collection[str], start: int) -> bool:
    """What the planning contract does not ask of an item that `move_fixed` moves: that its venue is open then and has
    the lanes, that each of its coaches is there and free, and that nobody attends another fixed item meanwhile.

    `parts` are the fixed items that are one session. What is placed is not looked at: a new plan follows the move.
    """
    moved = [_moved(problem.fixed[part].item, start) for part in parts]
    others = [fixed.item for name, fixed in problem.fixed.items() if name not in parts]
    is_there = all(_has_venue(problem, one, others) and _has_coaches(problem, one, others) for one in moved)
    return is_there and not _is_anybody_elsewhere(problem, parts, moved)


def _moved(item: Item, start: int) -> Item:
    return replace(item, start=start, end=start + item.end - item.start)


def _has_venue(problem: Problem, item: Item, others: Sequence[Item]) -> bool:
    """Rules 1 and 4; an item without a venue needs none."""
    if item.venue is None:
        return True
    venue = problem.venues[item.venue]
    beside = [one for one in others if one.venue == item.venue and one.start < item.end and item.start < one.end]
    is_open = lies_in_one(venue.open, item.start, item.end)
    return is_open and lanes_in_use([item, *beside], item.start, item.end) <= venue.lanes


def _has_coaches(problem: Problem, item: Item, others: Sequence[Item]) -> bool:
    """Rules 1 and 3."""
    for name in item.coaches:
        coach, led = problem.coaches[name], [one for one in others if name in one.coaches]
        if not is_coach_available(coach, item.start, item.end):
            return False
        if coach_obstacles(coach, problem.policy.travel_min, problem.local, item, led):
            return False
    return True


def _is_anybody_elsewhere(problem: Problem, parts: Collection[str], moved: Sequence[Item]) -> bool:
    """Whether an athlete of the session attends another fixed item at some part of it."""
    start, end = min(one.start for one in moved), max(one.end for one in moved)
    return any(
        any(one.id in parts for one in items)
        and any(one.id not in parts and one.start < end and start < one.end for one in items)
        for items in Attendance(problem).fixed.values()
    )
