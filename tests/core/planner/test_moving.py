"""What an item that moves has to find where it goes; the planning contract asks it of placed sessions alone."""

import pytest

from sessions.core.planner.moving import can_begin
from sessions.core.planner.reading import read_problem

DAY = "2027-03-02"
USUAL = {"venue": "straight", "lanes": 2, "coaches": ["c1"], "athletes": ["a1"]}
NOWHERE = {"venue": None, "lanes": None}


def span(starts: int, ends: int) -> dict[str, str]:
    return {"start": f"{DAY}T{starts:02d}:00+00:00", "end": f"{DAY}T{ends:02d}:00+00:00"}


def item(name: str, starts: int, **more: object) -> dict[str, object]:
    given = {key: value for key, value in more.items() if value is not None}
    return {"id": name, "kind": "moderate", "groups": []} | span(starts, starts + 1) | given


def begins(hour: int, minute: int, *others: dict[str, object], parts: tuple[str, ...] = ("m",), **own: object) -> bool:
    """Whether `m`, on two lanes of the straight, led by c1 and attended by a1, can begin at that time of its day."""
    document = {
        "version": 1,
        "timezone": "UTC",
        "horizon": {"first_day": "2027-03-01", "days": 7},
        "grid_min": 15,
        "policy": {"travel_min": 20},
        "athletes": [{"id": "a1"}, {"id": "a2"}],
        "groups": [],
        "coaches": [{"id": "c1", "available": [span(17, 21)], "max_sessions_per_day": 2}],
        "venues": [{"id": one, "lanes": 3, "open": [span(16, 20)]} for one in ("straight", "field")],
        "fixed": [item("m", 9, **USUAL | own), *others],
        "demands": [],
        "current": [],
    }
    problem = read_problem(document)
    return can_begin(problem, parts, problem.local.midnight(problem.first_day) + (24 + hour) * 60 + minute)


@pytest.mark.parametrize(
    ("hour", "minute", "is_open", "is_there"),
    [(9, 0, False, False), (16, 45, True, False), (17, 0, True, True), (19, 0, True, True), (19, 15, False, True)],
)
def test_its_venue_is_open_and_its_coach_there_for_all_of_it(hour, minute, is_open, is_there):
    assert begins(hour, minute) is (is_open and is_there)
    assert begins(hour, minute, coaches=[]) is is_open
    assert begins(hour, minute, **NOWHERE) is is_there


def test_lanes_that_others_leave_are_enough():
    other = item("o", 18, venue="straight", lanes=1)
    assert begins(18, 0, other) and not begins(18, 0, other, lanes=3)
    assert not begins(18, 30, item("all", 19, venue="straight"))
    assert begins(18, 0, item("all", 19, venue="straight"))


def test_its_coach_is_free_has_time_to_come_and_no_more_than_a_day_allows():
    beside = item("o", 18, coaches=["c1"], venue="field")
    assert not begins(18, 30, beside)
    assert not begins(19, 0, beside), "20 min of travel"
    assert begins(19, 0, item("o", 18, coaches=["c1"], venue="straight", lanes=1))
    assert not begins(19, 0, item("o", 10, coaches=["c1"]), item("p", 12, coaches=["c1"]))


def test_nobody_is_in_two_places():
    assert not begins(18, 0, item("o", 18, athletes=["a1"]))
    assert begins(18, 0, item("o", 18, athletes=["a2"]))


def test_the_parts_of_one_session_are_not_in_their_own_way():
    part = item("m-hard", 18, athletes=["a1"])
    assert not begins(18, 0, part)
    assert begins(18, 0, part, parts=("m", "m-hard"))
