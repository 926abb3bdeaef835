"""Both weekends on which clocks change: sessions keep their wall time, rest between them is counted in real hours."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from sessions.core.iso_week import IsoWeek
from sessions.core.planner.limits import Code
from sessions.core.planner.problem import Placement
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import broken_rules
from sessions.core.season import usual_starts

LONDON = ZoneInfo("Europe/London")
SPRING, AUTUMN = date(2026, 3, 29), date(2026, 10, 25)
EPOCH = datetime.fromisoformat("1970-01-01T00:00+00:00")


@pytest.mark.parametrize(
    ("change", "utc"),
    [(SPRING, ["03-24 18:00", "03-31 17:00", "04-07 17:00"]), (AUTUMN, ["10-20 17:00", "10-27 18:00", "11-03 18:00"])],
    ids=["spring", "autumn"],
)
def test_a_usual_slot_keeps_its_wall_time(change: date, utc: list[str]) -> None:
    """Tuesdays at 18:00 in London before and after the change; 18:00 is 18:00 UTC in winter, 17:00 in summer."""
    first = change - timedelta(days=6)
    weeks = [IsoWeek(first + timedelta(weeks=number), LONDON) for number in range(3)]
    starts = [usual_starts(week, weekday=2, slot=(time(18), None), duration_min=60)[0] for week in weeks]
    assert [f"{one:%m-%d %H:%M}" for one in starts] == utc
    assert {one.astimezone(LONDON).time() for one in starts} == {time(18)}


@pytest.mark.parametrize(
    ("change", "elapsed_h"), [(SPRING, 46), (AUTUMN, 48)], ids=["an hour is missing", "an hour comes twice"]
)
def test_rest_over_the_change_is_real_hours(change: date, elapsed_h: int) -> None:
    """Hard work until Friday 19:00, technique on Sunday at 18:00: 47 hours by the clock on the wall."""
    assert Code.TOO_SOON not in codes(change, wanted_h=elapsed_h)
    assert Code.TOO_SOON in codes(change, wanted_h=elapsed_h + 1)


def codes(sunday: date, *, wanted_h: int) -> set[Code]:
    problem = read_problem(two_days_apart(sunday, wanted_h))
    start = (instant(sunday, 18) - EPOCH) // timedelta(minutes=1)
    return {broken.code for broken in broken_rules(problem, [Placement("d", start, "v", ("c",), frozenset())])}


def instant(day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour), LONDON)


def two_days_apart(sunday: date, wanted_h: int) -> dict:
    def span(day: date, first: int, last: int) -> dict[str, str]:
        return {"start": instant(day, first).isoformat(), "end": instant(day, last).isoformat()}

    def minutes(row: dict[str, str]) -> dict[str, str]:
        return {name: text[:16] + text[19:] for name, text in row.items()}

    friday, evening = sunday - timedelta(days=2), [minutes(span(sunday, 16, 22))]
    return {
        "version": 1,
        "timezone": LONDON.key,
        "horizon": {"first_day": (sunday - timedelta(days=6)).isoformat(), "days": 7},
        "grid_min": 15,
        "policy": {"separation_h": {"hard": {"technique": wanted_h}}},
        "athletes": [{"id": "a"}],
        "groups": [{"id": "g", "athletes": ["a"]}],
        "coaches": [{"id": "c", "available": evening, "max_sessions_per_day": 2}],
        "venues": [{"id": "v", "lanes": 2, "open": evening}],
        "fixed": [{"id": "f", "kind": "hard", **minutes(span(friday, 18, 19)), "groups": ["g"]}],
        "demands": [
            {
                "id": "d", "kind": "technique", "group": "g", "duration_min": 60, "priority": 1, "windows": evening,
                "venues": ["v"], "lanes": 1, "coaches": ["c"], "observers": 1,
            }
        ],
    }  # fmt: skip
