"""What would give a left-out demand a place: every change offered holds, and one is offered wherever there is one."""

import copy
from datetime import datetime, timedelta

from hypothesis import HealthCheck, given, settings

from sessions.core.planner.changes import changed
from sessions.core.planner.faults import ProblemFaults
from sessions.core.planner.reading import read_problem
from sessions.core.planner.solve import solve_document
from tests.core.planner.brute_force import BruteForce
from tests.core.planner.tiny_problems import problems
from tests.sizes import LONG

ORDER = ["add_window", "add_available", "add_open", "move_fixed", "set_demand", "set_policy", "drop_fixed"]


def is_valid(document):
    try:
        read_problem(document)
    except ProblemFaults:
        return False
    return True


def places_all(document, needed):
    """By exhaustion: some best plan places all of these demands. Where they are far dearer to leave out, the best plan
    costs no more than before."""
    dearer = copy.deepcopy(document)
    for row in dearer["demands"]:
        row["priority"] += 10**6 * (row["id"] in needed)
    return BruteForce(dearer).least_cost() == BruteForce(document).least_cost()


def simple_changes(document, name):
    """Plain single changes around a demand, made without the planner's own list of candidates."""
    demand = next(row for row in document["demands"] if row["id"] == name)
    first = datetime.fromisoformat(document["horizon"]["first_day"] + "T00:00+00:00")
    for number in range(document["horizon"]["days"]):
        date = (first + timedelta(days=number)).date().isoformat()
        day = {"start": f"{date}T15:00+00:00", "end": f"{date}T18:00+00:00"}
        yield {"add_window": {"demand": name, **day}}
        yield from ({"add_available": {"coach": row["id"], **day}} for row in document["coaches"])
        yield from ({"add_open": {"venue": row["id"], **day}} for row in document["venues"])
    for row in document["fixed"]:
        if "meet" not in [row["kind"], *row["also"]]:
            yield {"drop_fixed": row["id"]}
    for field in ("duration_min", "observers", "lanes"):
        if -(-demand[field] // 2) < demand[field]:
            yield {"set_demand": {"id": name, "field": field, "to": -(-demand[field] // 2)}}
    for group in (None, *(row["id"] for row in document["groups"])):
        owner = {} if group is None else {"group": group}
        yield {"set_policy": {**owner, "path": "max_excused_share", "to": 1}}
        yield {"set_policy": {**owner, "path": "sessions_per_day", "to": 9}}


@given(problems())
@settings(max_examples=100 if LONG else 3, deadline=None, suppress_health_check=list(HealthCheck))
def test_changes_hold_come_in_order_and_are_missing_only_where_none_helps(document):
    plan = solve_document(document, seconds=60, workers=1)
    placed = {row["demand"] for row in plan["placed"]}
    for row in plan["unplaced"]:
        needed = placed | {row["demand"]}
        offered = [one["change"] for one in row["would_fit_if"]]
        kinds = [ORDER.index(next(iter(change))) for change in offered]
        assert kinds == sorted(kinds) and len(offered) <= 3
        for change in offered:
            assert is_valid(changed(document, change)) and places_all(changed(document, change), needed), change
        if not offered:
            tried = (changed(document, change) for change in simple_changes(document, row["demand"]))
            assert not any(is_valid(new) and places_all(new, needed) for new in tried)
