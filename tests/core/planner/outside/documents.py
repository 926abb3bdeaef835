"""Bare problem documents: nothing costs but a demand without a place, and no rule holds unless it is asked for."""

from datetime import UTC, datetime, timedelta

from sessions.core.planner.best import best_plan
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.search import Watch

FIRST = datetime(2027, 3, 1, tzinfo=UTC)
ONLY_UNPLACED = {
    "unplaced": 1,
    "excused": 0,
    "moved": 0,
    "coach_changed": 0,
    "unpreferred": 0,
    "tired": 0,
    "close_pair": 0,
    "coach_peak": 0,
}
NO_RULES = {"separation_h": {}, "sessions_per_day": None, "rest_days_per_week": 0, "max_excused_share": 0}


def minute(number):
    return (FIRST + timedelta(minutes=number)).isoformat(timespec="minutes")


def span(start, end):
    """[start, end) in minutes of the horizon."""
    return {"start": minute(start), "end": minute(end)}


def document(*, days, grid_min, groups, coaches, demands, policy=None, weights=None, lanes=None, current=()):
    """`groups` by name with their athletes; all coaches and the one venue are there all the time, and the venue has
    room for everything unless `lanes` says otherwise."""
    always = [span(0, days * 24 * 60)]
    return {
        "version": 1,
        "timezone": "UTC",
        "horizon": {"first_day": FIRST.date().isoformat(), "days": days},
        "grid_min": grid_min,
        "policy": {**NO_RULES, **(policy or {})},
        "weights": weights or ONLY_UNPLACED,
        "athletes": [{"id": name} for name in sorted({one for athletes in groups.values() for one in athletes})],
        "groups": [{"id": name, "athletes": athletes} for name, athletes in groups.items()],
        "coaches": [{"id": name, "available": always, "max_sessions_per_day": len(demands)} for name in coaches],
        "venues": [{"id": "ground", "lanes": lanes or len(demands), "open": always}],
        "fixed": [],
        "demands": demands,
        "current": list(current),
    }


def demand(name, *, group, duration_min, windows, coaches, preferred=()):
    return {
        "id": name,
        "kind": "moderate",
        "group": group,
        "duration_min": duration_min,
        "priority": 1,
        "windows": windows,
        "preferred": list(preferred),
        "venues": ["ground"],
        "lanes": 1,
        "coaches": coaches,
        "observers": 1,
    }


def best_cost(problem_document, *, seconds=300, workers=1):
    """(bound, objective) of the plan found for the document; why and why not are left unsaid, which saves time."""
    found = best_plan(RuleBook(read_problem(problem_document)), Watch(seconds, workers=workers, seed=1))
    return found.bound, found.objective
