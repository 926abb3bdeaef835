"""The check of hand-made plans against the contract's text read a second time."""

from collections import Counter
from datetime import datetime, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sessions.core.planner.limits import Code
from sessions.core.planner.problem import Placement
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import broken_rules
from sessions.core.planner.score import score_of
from tests.core.planner.brute_force import UTC, BruteForce
from tests.core.planner.tiny_problems import problems
from tests.sizes import examples

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


@st.composite
def problems_with_plans(draw):
    """A problem and a plan that may break anything, though most of its single places are fair."""
    document = draw(problems())
    judge = BruteForce(document)
    plan = []
    for demand in document["demands"]:
        fair = list(judge.choices(demand))
        kind = draw(st.sampled_from(["left out", "fair", "fair", "fair", "wild"]))
        if kind == "fair" and fair:
            item = draw(st.sampled_from(fair))
            plan.append(
                (demand["id"], item["start"], item["venue"], tuple(item["coaches"]), frozenset(item["excused"]))
            )
        elif kind == "wild":
            start = datetime.fromisoformat(demand["windows"][0]["start"]).astimezone(UTC)
            start += draw(st.sampled_from([-60, 0, 15, 60, 120, 1440])) * MINUTE
            team = draw(st.lists(st.sampled_from(["c1", "c2"]), unique=True))
            excused = draw(st.lists(st.sampled_from(["a1", "a2", "a3"]), unique=True))
            plan.append((demand["id"], start, draw(st.sampled_from(["v1", "v2"])), tuple(team), frozenset(excused)))
    return document, plan


def judged(judge, plan):
    """(is the plan sound, what does it cost) by the second reading; no cost if a place is unfair."""
    items = []
    for demand, start, venue, team, excused in plan:
        row = next(d for d in judge.doc["demands"] if d["id"] == demand)
        same = [
            item
            for item in judge.choices(row)
            if (item["start"], item["venue"], set(item["coaches"]), item["excused"])
            == (start, venue, set(team), set(excused))
        ]
        if not same:
            return False, None
        items.append(same[0])
    return judge.is_sound(items), judge.cost(items)


@given(problems_with_plans())
@settings(max_examples=examples(3000), deadline=None, suppress_health_check=list(HealthCheck))
def test_both_readings_agree_on_any_plan(case):
    document, plan = case
    problem = read_problem(document)
    placements = [Placement(d, (start - EPOCH) // MINUTE, *rest) for d, start, *rest in plan]
    is_sound, cost = judged(BruteForce(document), plan)
    assert (broken_rules(problem, placements) == []) == is_sound
    if cost is not None:
        assert score_of(problem, placements).cost(problem.weights) == cost


DAY = "2027-03-01"


def small_problem():
    """One group of three, a hard session on Monday at noon and two demands on Tuesday and Wednesday."""

    def span(first, last, day=DAY):
        return {"start": f"{day}T{first}+00:00", "end": f"{day}T{last}+00:00"}

    demand = {
        "kind": "easy",
        "group": "g1",
        "duration_min": 60,
        "priority": 1,
        "windows": [span("00:00", "23:00"), span("00:00", "23:00", "2027-03-02")],
        "venues": ["v1", "v2"],
        "lanes": 2,
        "coaches": ["c1", "c2"],
        "observers": 1,
        "qualified": ["c1"],
    }
    return {
        "version": 1,
        "timezone": "Europe/Dublin",
        "horizon": {"first_day": DAY, "days": 7},
        "grid_min": 15,
        "policy": {"travel_min": 30, "sessions_per_day": 2, "excusals_per_week": 1},
        "athletes": [
            {"id": "a1", "unavailable": [span("20:00", "21:00")]},
            {"id": "a2", "weekly_minutes_cap": 150},
            {"id": "a3"},
        ],
        "groups": [{"id": "g1", "athletes": ["a1", "a2", "a3"]}],
        "coaches": [
            {
                "id": "c1",
                "available": [span("08:00", "22:00"), span("08:00", "22:00", "2027-03-02")],
                "max_sessions_per_day": 2,
            },
            {"id": "c2", "available": [span("08:00", "22:00")], "max_sessions_per_day": 2},
        ],
        "venues": [
            {"id": "v1", "lanes": 3, "open": [span("08:00", "22:00"), span("08:00", "22:00", "2027-03-02")]},
            {"id": "v2", "lanes": 3, "open": [span("08:00", "23:00")]},
        ],
        "fixed": [{"id": "f1", "kind": "hard", **span("12:00", "13:00"), "groups": ["g1"], "venue": "v1", "lanes": 2}],
        "demands": [{**demand, "id": "d1"}, {**demand, "id": "d2", "kind": "technique"}],
    }


def minute(text):
    return (datetime.fromisoformat(f"{DAY[:8]}{text}+00:00") - EPOCH) // MINUTE


def codes(*placements):
    problem = read_problem(small_problem())
    rows = [Placement(d, minute(at), venue, team, frozenset(excused)) for d, at, venue, team, excused in placements]
    return Counter(broken.code for broken in broken_rules(problem, rows))


def test_a_sound_place_breaks_nothing():
    assert codes(("d1", "01T10:00", "v1", ("c1",), ())) == {}


def test_every_single_fault_of_a_place_is_named():
    cases = {
        Code.OFF_GRID: ("d1", "01T10:05", "v1", ("c1",), ()),
        Code.OUTSIDE_WINDOWS: ("d1", "01T22:30", "v2", ("c1",), ()),
        Code.VENUE_CLOSED: ("d1", "02T10:00", "v2", ("c1",), ()),
        Code.COACH_NOT_AVAILABLE: ("d1", "01T07:00", "v1", ("c1",), ()),
        Code.OBSERVERS_COUNT: ("d1", "01T10:00", "v1", (), ()),
        Code.NONE_QUALIFIED: ("d1", "01T10:00", "v1", ("c2",), ()),
        Code.LANES_FULL: ("d1", "01T12:30", "v1", ("c1",), ()),
        Code.TOO_MANY_EXCUSED: ("d1", "01T10:00", "v1", ("c1",), ("a1", "a2")),
        Code.UNAVAILABLE: ("d1", "01T19:30", "v1", ("c1",), ()),
        Code.OVERLAP: ("d1", "01T12:30", "v2", ("c1",), ()),
        Code.TOO_SOON: ("d2", "01T15:00", "v1", ("c1",), ()),
    }
    told = {code: code in codes(place) for code, place in cases.items()}
    assert told == dict.fromkeys(cases, True)


def test_every_single_fault_between_places_is_named():
    first = ("d1", "01T09:00", "v1", ("c1",), ())
    assert Code.COACH_BUSY in codes(first, ("d2", "01T09:30", "v1", ("c1",), ()))
    assert Code.COACH_TRAVELS in codes(first, ("d2", "01T10:15", "v2", ("c1",), ()))
    assert Code.DAY_FULL in codes(first, ("d2", "01T15:00", "v1", ("c1",), ()))
    assert Code.TOO_MANY_MINUTES in codes(first, ("d2", "01T15:00", "v1", ("c1",), ()))
    assert Code.PLACED_TWICE in codes(first, first)
    excused = ("d1", "01T09:00", "v1", ("c1",), ("a3",))
    assert Code.EXCUSALS_USED_UP in codes(excused, ("d2", "01T15:00", "v1", ("c1",), ("a3",)))
