"""The same seed and day give the same club, on any weekday, with a good technique session of that day."""

import pytest

from sessions.demo.accounts import facts_of
from sessions.demo.club import demo_club, make_demo_club
from sessions.demo.people import draw_roster
from teamtrack.common.clock import today_in
from tests.demo_checks import assert_good_for_today, assert_sound_week, day_of
from tests.demo_dump import dump, undone
from tests.sizes import LONG

SATURDAY, SUNDAY = 5, 6
WEEKDAYS = range(7) if LONG else (SATURDAY,)


def set_weekday(settings, weekday):
    settings.CLUB_DAY_SHIFT = 7 + weekday - today_in("Europe/Dublin").weekday()


@pytest.mark.django_db
@pytest.mark.parametrize("weekday", WEEKDAYS)
def test_a_club_made_on_any_weekday_trains_that_day_by_the_rules(settings, weekday):
    set_weekday(settings, weekday)
    club, passwords = make_demo_club(seed=weekday)
    assert demo_club() == club
    assert_good_for_today(club, facts_of(club, base_url="", passwords=passwords))
    for weeks_ago in (1, 0):
        assert_sound_week(club, weeks_ago=weeks_ago)


@pytest.mark.django_db
def test_the_same_seed_and_day_give_the_same_club(settings):
    set_weekday(settings, SUNDAY)
    with undone():
        club, passwords = make_demo_club(seed=7)
        facts = facts_of(club, base_url="", passwords=passwords)
        assert_good_for_today(club, facts)
        assert max(day_of(row) for row in facts["sessions"] if row["kind"] == "technique") > today_in(club.timezone)
        first = dump()
    with undone():
        make_demo_club(seed=7)
        assert [line for line, one in zip(dump(), first, strict=True) if line != one][:3] == []


def test_another_seed_gives_other_people():
    today = today_in("Europe/Dublin")
    names = {seed: {plan.full_name for plan in draw_roster(seed=seed, today=today)} for seed in (1, 2)}
    assert len(names[1] & names[2]) < 20
