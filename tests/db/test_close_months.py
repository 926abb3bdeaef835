"""A closed month's numbers stand on enough people, whatever came that month; and stay when the rows go."""

from datetime import timedelta

import pytest

from athletes.models import MonthNumbers
from sessions.models import Entry
from sessions.services.close_months import close_months
from teamtrack.common.clock import today_in
from tests.entries import make_entry, make_pain
from tests.people import make_athlete, make_session

pytestmark = pytest.mark.django_db


def numbers(scene):
    row = MonthNumbers.objects.order_by("month").first()
    return {(one["what"], one["group"]): one["number"] for one in row.numbers}


def came_last_month(scene, group, number, *, hurt=0):
    last = today_in(scene.club.timezone).replace(day=1) - timedelta(days=1)
    session = make_session(group, day=last)
    for index in range(number):
        athlete = make_athlete(scene.club, f"{group.name}{index}", group, account=False)
        make_entry(session, "presence", athlete, scene.coach, state="came")
        if index < hurt:
            make_pain(session, athlete, scene.coach)
    return session


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (6, 7, (13, 6, 7)),
        (4, 7, (11, None, None)),
        (4, 0, (None, None, "absent")),
        (0, 0, (None, "absent", "absent")),
    ],
)
def test_groups_of_few_are_hidden_and_so_is_what_gives_them_away(scene, first, second, expected):
    came_last_month(scene, scene.group, first)
    if second:
        came_last_month(scene, scene.other_group, second)
    close_months(club=scene.club, day=today_in(scene.club.timezone))
    said = numbers(scene)
    found = (said["came", ""], *(said.get(("came", one.name), "absent") for one in (scene.group, scene.other_group)))
    assert found == expected


@pytest.mark.parametrize(("hurt", "shown"), [(0, None), (9, None), (10, 10)])
def test_pain_notes_want_ten_people(scene, hurt, shown):
    came_last_month(scene, scene.group, 12, hurt=hurt)
    close_months(club=scene.club, day=today_in(scene.club.timezone))
    assert numbers(scene)["pain_notes", ""] == shown


def test_a_closed_month_stays_as_it_was(scene):
    came_last_month(scene, scene.group, 6)
    day = today_in(scene.club.timezone)
    assert close_months(club=scene.club, day=day) == 1
    before = numbers(scene)
    Entry.objects.all().delete()
    assert close_months(club=scene.club, day=day) == 0
    assert numbers(scene) == before
