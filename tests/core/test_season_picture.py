"""The drawn season: the names of main meets stand beside them, never over one another."""

from datetime import date, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.iso_week import IsoWeek
from sessions.models import SeasonPlan, TrainingSession
from sessions.selectors.season_strip import SeasonStrip, StripWeek
from sessions.web.season_picture import WIDTH, WIDTH_A_LETTER, MeetMark, season_picture
from tests.sizes import examples

MONDAY = date(2026, 8, 24)


def marks(weeks: int, meets: dict[int, str]) -> tuple[MeetMark, ...]:
    season = SeasonPlan(name="Season", first_monday=MONDAY, weeks=weeks)
    found = tuple(
        StripWeek(
            number=number,
            week=IsoWeek(MONDAY + timedelta(weeks=number - 1), ZoneInfo("Europe/Dublin")),
            phase=None,
            begins_phase=False,
            modifiers=(),
            meets=(TrainingSession(title=meets[number]),) if number in meets else (),
            planned=0,
            published=0,
            planned_min=0,
            published_min=0,
            is_now=False,
        )
        for number in range(1, weeks + 1)
    )
    return season_picture(SeasonStrip(season, found, ())).meets


def reach(mark: MeetMark) -> tuple[float, float]:
    """From where to where mark and name stand."""
    wide = len(mark.shown) * WIDTH_A_LETTER
    name = (mark.text_x, mark.text_x + wide) if mark.anchor == "start" else (mark.text_x - wide, mark.text_x)
    return (min(mark.x, name[0]), max(mark.x, name[1])) if mark.shown else (mark.x, mark.x)


def test_a_name_stands_to_the_right_or_where_the_season_ends_to_the_left():
    first, last = marks(40, {23: "Causeway trophy", 39: "Three Valleys league"})
    assert [(one.shown, one.anchor) for one in (first, last)] == [
        ("Causeway trophy", "start"),
        ("Three Valleys league", "end"),
    ]


@settings(max_examples=examples(200), deadline=None)
@given(st.integers(4, 60), st.dictionaries(st.integers(1, 60), st.text("abc", max_size=40), max_size=12))
def test_no_name_runs_into_another_meet_or_out_of_the_drawing(weeks: int, meets: dict[int, str]) -> None:
    spans = [reach(mark) for mark in marks(weeks, {number: name for number, name in meets.items() if number <= weeks})]
    assert all(left >= 0 and right <= WIDTH for left, right in spans)
    assert all(one[1] <= other[0] for one, other in pairwise(spans))
