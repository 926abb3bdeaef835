"""Other sports: their times on the wall clock, said twice, and that the planner keeps the separations round them."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from sessions.core.other_sports import HOURS, SaidSport, in_the_way, not_the_clubs, said_of, sport_times
from sessions.core.planner.problem import DEFAULT_SEPARATION_H
from sessions.core.planner.solve import solve_document

DUBLIN = ZoneInfo("Europe/Dublin")
ONE, OTHER = "0b8f5a44-3c11-4d6e-9c55-0f6f5b1f0a01", "5d0c9c1e-7c0f-4a2e-8a53-2f1f0a9b7c02"
WEDNESDAY = date(2027, 3, 3)


def said(row_id=ONE, *, effort="hard", first=WEDNESDAY, last=WEDNESDAY, hours=(time(17), time(18, 30)), minutes=90):
    return SaidSport(row_id, effort, first, last, *hours, minutes)


def walls(times):
    return [
        (f"{one.starts_at.astimezone(DUBLIN):%a %d %H:%M}", f"{one.ends_at.astimezone(DUBLIN):%H:%M}") for one in times
    ]


def test_it_lies_on_its_weekday_up_to_its_last_day_and_keeps_its_wall_time_over_a_clock_change():
    """Irish clocks go forward on Sunday 28 March 2027 (European Union, Directive 2000/84/EC: the last Sunday)."""
    weekly = said(last=date(2027, 4, 1))
    found = sport_times([weekly], DUBLIN, date(2027, 3, 10), date(2027, 5, 1))
    assert walls(found) == [(f"Wed {day} 17:00", "18:30") for day in (10, 17, 24, 31)]
    assert [one.starts_at.hour for one in found] == [17, 17, 17, 16]
    assert list(weekly.days(date(2027, 1, 1), date(2027, 3, 4))) == [WEDNESDAY]


def test_hours_that_the_clocks_jump_over_still_have_a_length():
    gone = said(first=date(2027, 3, 28), last=date(2027, 3, 28), hours=(time(1, 30), time(2)), minutes=30)
    (one,) = sport_times([gone], DUBLIN, date(2027, 3, 28), date(2027, 3, 28))
    assert one.ends_at - one.starts_at == timedelta(minutes=30)


def test_the_same_evening_said_twice_counts_once_as_hard_and_long_as_the_harder():
    evening = said(OTHER, effort="moderate", hours=HOURS["evening"], minutes=60)
    (one,) = sport_times([said(), evening], DUBLIN, WEDNESDAY, WEDNESDAY)
    assert (walls([one]), one.effort, one.minutes) == ([("Wed 03 17:00", "21:00")], "hard", 90)


def test_an_item_says_whose_word_it_is_and_any_other_says_nothing():
    (one,) = sport_times([said()], DUBLIN, WEDNESDAY, WEDNESDAY)
    assert said_of(one.id) == (ONE, WEDNESDAY)
    assert [said_of(item) for item in (ONE, f"{ONE}-hard", f"{ONE}-min40", "f1")] == [None] * 4
    assert not_the_clubs({"fixed": [{"id": one.id}, {"id": ONE}]}) == {one.id}


@pytest.mark.parametrize(
    ("kind", "hours_after", "is_in_the_way"),
    [("hard", 43, True), ("hard", 44, False), ("technique", 33, True), ("technique", 34, False), ("easy", 0, False)],
)
def test_it_is_in_the_way_of_what_lies_nearer_than_the_contracts_table(kind, hours_after, is_in_the_way):
    """Source: the planning contract's default separations: 44 h from hard to hard, 34 h from hard to technique."""
    times = sport_times([said()], DUBLIN, WEDNESDAY, WEDNESDAY)
    start = times[0].ends_at + timedelta(hours=hours_after)
    found = in_the_way([kind], start, start + timedelta(hours=1), times, DEFAULT_SEPARATION_H)
    assert found == (times[0] if is_in_the_way else None)
    assert in_the_way(["easy"], times[0].starts_at, times[0].ends_at, times, {}) == times[0]


def problem(separation_h, *fixed, window=("2027-03-04T16:00+00:00", "2027-03-06T20:00+00:00")):
    """One athlete's technique from Thursday to Saturday, any hour of the day, after another sport on Wednesday."""
    span = {"start": window[0], "end": window[1]}
    return {
        "version": 1, "timezone": "Europe/Dublin", "horizon": {"first_day": "2027-03-01", "days": 7}, "grid_min": 60,
        "policy": {"separation_h": {"hard": {"technique": separation_h}}, "max_excused_share": 0},
        "athletes": [{"id": "a1"}], "groups": [{"id": "g1", "athletes": ["a1"]}],
        "coaches": [{"id": "c1", "available": [span], "max_sessions_per_day": 2}],
        "venues": [{"id": "v1", "lanes": 2, "open": [span]}],
        "fixed": list(fixed),
        "demands": [
            {
                "id": "d1", "kind": "technique", "group": "g1", "duration_min": 60, "priority": 2, "windows": [span],
                "preferred": [{"start": window[0], "end": "2027-03-04T17:00+00:00"}], "venues": ["v1"], "lanes": 1,
                "coaches": ["c1"], "observers": 1,
            }
        ],
    }  # fmt: skip


def item(effort="hard"):
    (one,) = sport_times([said(effort=effort)], DUBLIN, WEDNESDAY, WEDNESDAY)
    start, end = (moment.isoformat(timespec="minutes") for moment in (one.starts_at, one.ends_at))
    return {"id": one.id, "kind": effort, "start": start, "end": end, "groups": [], "athletes": ["a1"], "load_min": 90}


@pytest.mark.parametrize("separation_h", [24, 48])
def test_the_planner_keeps_the_hours_after_another_sport(separation_h):
    """Without it the session lies where it would rather be, on Thursday at 16:00."""
    ends = datetime(2027, 3, 3, 18, 30, tzinfo=UTC)

    def start(*fixed):
        (placed,) = solve_document(problem(separation_h, *fixed), seconds=5, workers=1)["placed"]
        return datetime.fromisoformat(placed["start"])

    assert start() == datetime(2027, 3, 4, 16, tzinfo=UTC)
    assert start(item()) >= ends + timedelta(hours=separation_h)
    assert start(item("easy")) == datetime(2027, 3, 4, 16, tzinfo=UTC)


def test_no_offer_moves_or_drops_what_is_not_the_clubs():
    document = problem(48, item(), window=("2027-03-04T16:00+00:00", "2027-03-04T18:00+00:00"))
    about = {"move_fixed", "drop_fixed"}

    def verbs(unmovable):
        (row,) = solve_document(document, seconds=5, workers=1, unmovable=unmovable)["unplaced"]
        return {verb for offer in row["would_fit_if"] for verb in offer["change"]}

    assert verbs(()) & about
    assert verbs(not_the_clubs(document)) and not verbs(not_the_clubs(document)) & about
