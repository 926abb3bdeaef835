"""Offers that come too late are no offers."""

from datetime import datetime

from sessions.core.offers import with_what_can_still_be

NOW = datetime.fromisoformat("2027-03-03T12:00+00:00")
FIXED = {
    "past": datetime.fromisoformat("2027-03-02T18:00+00:00"),
    "coming": datetime.fromisoformat("2027-03-04T18:00+00:00"),
    "free": datetime.fromisoformat("2027-03-04T18:00+00:00"),
}
NOWHERE = ("free", datetime.fromisoformat("2027-03-05T06:00+00:00"))
WEEKS = {"coming": (datetime.fromisoformat("2027-03-01T00:00+00:00"), datetime.fromisoformat("2027-03-08T00:00+00:00"))}


def span(day: int, **what: str) -> dict:
    return what | {"start": f"2027-03-0{day}T19:00+01:00", "end": f"2027-03-0{day}T20:00+01:00"}


def left_of(*changes: dict) -> list[dict]:
    row = {"demand": "d1", "because": [], "would_fit_if": [{"change": one, "text": "…"} for one in changes]}
    found = with_what_can_still_be(
        {"placed": [], "unplaced": [row]}, FIXED, NOW, WEEKS, lambda item, at: (item, at) != NOWHERE
    )
    return [offer["change"] for offer in found["unplaced"][0]["would_fit_if"]]


def test_what_lies_in_the_past_or_has_begun_is_not_offered():
    late = [
        {"add_window": span(2, demand="d1")},
        {"add_available": span(1, coach="c1")},
        {"add_open": span(2, venue="straight")},
        {"move_fixed": {"id": "past", "start": "2027-03-05T18:00+00:00"}},
        {"move_fixed": {"id": "coming", "start": "2027-03-03T12:00+00:00"}},
        {"drop_fixed": "past"},
    ]
    assert left_of(*late) == []


def test_what_can_still_be_done_stays_in_its_order():
    possible = [
        {"add_window": span(3, demand="d1")},
        {"add_available": span(4, coach="c1")},
        {"add_open": span(5, venue="straight")},
        {"move_fixed": {"id": "coming", "start": "2027-03-05T18:00+00:00"}},
        {"set_demand": {"id": "d1", "field": "duration_min", "to": 45}},
        {"set_policy": {"group": "g", "path": "sessions_per_day", "to": 2}},
        {"drop_fixed": "coming"},
    ]
    assert left_of(*possible) == possible


def test_a_session_of_another_weeks_plan_is_offered_to_move_within_its_week_alone():
    moves = [
        {"move_fixed": {"id": one, "start": start}}
        for one in ("coming", "free")
        for start in ("2027-03-07T23:00+00:00", "2027-03-08T00:00+00:00")
    ]
    assert left_of(*moves) == [moves[0], *moves[2:]]


def test_a_session_is_not_offered_to_move_to_where_it_cannot_be():
    moves = [{"move_fixed": {"id": one, "start": "2027-03-05T06:00+00:00"}} for one in ("coming", "free")]
    assert left_of(*moves) == moves[:1]
