"""Every fault of the planning contract is told with the path that leads to it."""

import copy
import json

import pytest

from sessions.core.planner.faults import ProblemFaults
from sessions.core.planner.reading import read_problem

SPAN = {"start": "2027-03-01T17:00+00:00", "end": "2027-03-01T19:00+00:00"}
SOUND = {
    "version": 1,
    "timezone": "Europe/Dublin",
    "horizon": {"first_day": "2027-03-01", "days": 7},
    "grid_min": 15,
    "policy": {"separation_h": {"hard": {"technique": 34.5}}, "sessions_per_day": None},
    "weights": {"tired": 15},
    "athletes": [{"id": "a1", "weekly_minutes_cap": 600, "unavailable": [SPAN]}, {"id": "a2"}],
    "groups": [{"id": "g1", "athletes": ["a1", "a2"], "policy": {"rest_days_per_week": 2}}],
    "coaches": [
        {"id": "c1", "available": [SPAN], "max_sessions_per_day": 2},
        {"id": "c2", "available": [SPAN], "max_sessions_per_day": 2},
    ],
    "venues": [{"id": "v1", "lanes": 8, "open": [SPAN]}],
    "fixed": [{"id": "f1", "kind": "hard", "also": ["easy"], **SPAN, "groups": ["g1"], "venue": "v1", "lanes": 4}],
    "demands": [
        {
            "id": "d1",
            "kind": "technique",
            "also": ["moderate"],
            "group": "g1",
            "duration_min": 60,
            "priority": 2,
            "windows": [SPAN],
            "preferred": [SPAN],
            "venues": ["v1"],
            "lanes": 2,
            "coaches": ["c1", "c2"],
            "observers": 1,
            "qualified": ["c1"],
        }
    ],
    "current": [{"demand": "d1", "start": "2027-03-01T17:00+00:00", "venue": "v1", "coaches": ["c1"]}],
}
GONE = object()
FAULTS = [
    ("version", 2, "version"),
    ("version", True, "version"),
    ("version", GONE, "version"),
    ("more", 1, "more"),
    ("timezone", "Europe/Nowhere", "timezone"),
    ("grid_min", 7, "grid_min"),
    ("grid_min", 15.5, "grid_min"),
    ("horizon.days", 0, "horizon.days"),
    ("horizon.first_day", "2027-02-30", "horizon.first_day"),
    ("horizon.first_day", GONE, "horizon.first_day"),
    ("policy.travel_min", -1, "policy.travel_min"),
    ("policy.max_excused_share", 1.01, "policy.max_excused_share"),
    ("policy.rest_days_per_week", 8, "policy.rest_days_per_week"),
    ("policy.sessions_per_day", 0, "policy.sessions_per_day"),
    ("policy.sessions_per_day", 1.5, "policy.sessions_per_day"),
    ("policy.fresh_after_h", True, "policy.fresh_after_h"),
    ("policy.separation_h.hard.sprint", 3, "policy.separation_h.hard.sprint"),
    ("policy.separation_h.sprint", {}, "policy.separation_h.sprint"),
    ("policy.separation_h.hard.technique", -1, "policy.separation_h.hard.technique"),
    ("weights.tired", 1.5, "weights.tired"),
    ("weights.fun", 1, "weights.fun"),
    ("athletes.0.id", 5, "athletes[0].id"),
    ("athletes.1.id", "a1", "athletes[1].id"),
    ("athletes.0.weekly_minutes_cap", "600", "athletes[0].weekly_minutes_cap"),
    ("athletes.0.unavailable.0.end", "2027-03-01T17:00+00:00", "athletes[0].unavailable[0].end"),
    ("athletes.0.unavailable.0.end", "2027-03-01T19:00:00+00:00", "athletes[0].unavailable[0].end"),
    ("athletes.0.unavailable.0.start", "2027-03-01T17:00", "athletes[0].unavailable[0].start"),
    ("athletes.0.unavailable", None, "athletes[0].unavailable"),
    ("groups.0.athletes.1", "a9", "groups[0].athletes[1]"),
    ("groups.0.athletes.1", "a1", "groups[0].athletes[1]"),
    ("groups.0.policy.travel_min", 5, "groups[0].policy.travel_min"),
    ("coaches.0.max_sessions_per_day", GONE, "coaches[0].max_sessions_per_day"),
    ("coaches.1.id", "c1", "coaches[1].id"),
    ("venues.0.lanes", 0, "venues[0].lanes"),
    ("fixed.0.also.0", "hard", "fixed[0].also[0]"),
    ("fixed.0.kind", "race", "fixed[0].kind"),
    ("fixed.0.end", "2027-03-01T16:00+00:00", "fixed[0].end"),
    ("fixed.0.venue", GONE, "fixed[0].lanes"),
    ("fixed.0.venue", "v9", "fixed[0].venue"),
    ("fixed.0.load_min", -5, "fixed[0].load_min"),
    ("fixed.0.absent", ["a9"], "fixed[0].absent[0]"),
    ("demands.0.id", "f1", "demands[0].id"),
    ("demands.0.group", "g9", "demands[0].group"),
    ("demands.0.group", GONE, "demands[0].group"),
    ("demands.0.priority", 4, "demands[0].priority"),
    ("demands.0.priority", 0, "demands[0].priority"),
    ("demands.0.duration_min", 0, "demands[0].duration_min"),
    ("demands.0.also", ["easy", "easy"], "demands[0].also[1]"),
    ("demands.0.windows", [], "demands[0].windows"),
    ("demands.0.windows.0.end", "2027-03-08T00:15+00:00", "demands[0].windows[0].end"),
    ("demands.0.windows.0.start", "2027-02-28T23:45+00:00", "demands[0].windows[0].end"),
    ("demands.0.venues", [], "demands[0].venues"),
    ("demands.0.coaches", [], "demands[0].coaches"),
    ("demands.0.qualified", [], "demands[0].qualified"),
    ("demands.0.coaches", ["c2"], "demands[0].qualified[0]"),
    ("demands.0.observers", 3, "demands[0].observers"),
    ("demands.0.lanes", "2", "demands[0].lanes"),
    ("current.0.demand", "d9", "current[0].demand"),
    ("current.0.venue", "v9", "current[0].venue"),
    ("current", [SOUND["current"][0]] * 2, "current[1].demand"),
]


def with_fault(path, value):
    document = copy.deepcopy(SOUND)
    *way, last = (int(step) if step.isdigit() else step for step in path.split("."))
    place = document
    for step in way:
        place = place[step]
    if value is GONE:
        del place[last]
    else:
        place[last] = copy.deepcopy(value)
    return document


def paths_of(document):
    with pytest.raises(ProblemFaults) as caught:
        read_problem(document)
    return [fault.path for fault in caught.value.faults]


def test_a_sound_problem_has_no_fault():
    problem = read_problem(SOUND)
    assert (len(problem.demands), problem.policy.sessions_per_day) == (1, None)


@pytest.mark.parametrize(("path", "value", "told"), FAULTS)
def test_a_fault_is_told_where_it_is(path, value, told):
    assert told in paths_of(with_fault(path, value))


@pytest.mark.parametrize(("path", "value", "told"), [row for row in FAULTS if row[0].startswith(("policy", "weights"))])
def test_a_single_fault_is_told_alone(path, value, told):
    assert paths_of(with_fault(path, value)) == [told]


@pytest.mark.parametrize("document", [None, [], "text", 3, True])
def test_what_is_no_object_is_a_fault_of_the_whole(document):
    assert paths_of(document) == ["$"]


def test_all_faults_are_told_at_once():
    document = with_fault("grid_min", 7)
    document["demands"][0]["priority"] = 9
    document["venues"][0]["lanes"] = 0
    assert paths_of(document) == ["grid_min", "venues[0].lanes", "demands[0].priority"]


def test_decimals_are_exact():
    document = copy.deepcopy(SOUND)
    document["policy"]["max_excused_share"] = 0.29
    assert read_problem(document).policy.max_excused_share * 100 == 29


def test_a_fault_is_one_line():
    document = copy.deepcopy(SOUND)
    document["a\nb"] = 1
    with pytest.raises(ProblemFaults) as caught:
        read_problem(json.loads(json.dumps(document)))
    assert [str(fault) for fault in caught.value.faults] == ["'a\\nb': there is no such field"]
