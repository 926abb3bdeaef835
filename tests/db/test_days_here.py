"""Months and days off a young athlete had here, and coming back after weeks away: rosters, roll calls, permissions."""

from datetime import timedelta

import pytest

from athletes.access import answers_for
from sessions.models import SessionAthlete
from sessions.selectors.days_here import days_here
from sessions.selectors.form_history import athlete_form
from tests.entries import make_entry
from tests.people import make_session

pytestmark = pytest.mark.django_db


def found(scene, as_role, person):
    viewer = as_role(scene.coach, "coach")
    form = athlete_form(viewer=viewer, athlete_id=person.pk)
    return days_here(viewer=viewer, athlete=person, answers=form.answers)


def trained(scene, person, *days_ago):
    today = scene.training_session.starts_at.date()
    return [
        make_session(scene.group, day=today - timedelta(days=ago), coaches=(scene.coach,), athletes=(person,))
        for ago in days_ago
    ]


def test_days_are_those_of_sessions_that_are_over_and_the_roll_decides(scene, as_role):
    person = scene.athlete
    came, away, missed = trained(scene, person, 1, 2, 3)
    SessionAthlete.objects.filter(training_session=away).update(comes="away")
    make_entry(missed, "presence", person, scene.coach, state="away")
    make_entry(came, "presence", person, scene.coach, state="late")
    here = found(scene, as_role, person)
    assert (here.year.days_off, here.year.months_on, here.is_back) == (6, 1, False)


def test_an_adult_s_year_is_not_told_and_a_gap_is(scene, as_role):
    trained(scene, scene.adult_athlete, 17, 20)
    here = found(scene, as_role, scene.adult_athlete)
    assert (here.year, here.away, here.is_back) == (None, 16, True)
    trained(scene, scene.adult_athlete, 1)
    here = found(scene, as_role, scene.adult_athlete)
    assert (here.away, here.is_back) == (0, True)


def test_the_page_says_this_club_s_hours_only(scene, signed_in):
    trained(scene, scene.athlete, 1, 18)
    text = signed_in(scene.coach).get(f"/coach/athletes/{scene.athlete.pk}").content.decode()
    assert "hours only: trained here in" in text
    assert "Caterisano et al. 2019" in text


def test_who_may_not_know_who_came_is_told_nothing(scene, as_role):
    """Odo coaches another group."""
    for coach, is_told in ((scene.coach, True), (scene.other_coach, False)):
        viewer = as_role(coach, "coach")
        answers = answers_for(viewer=viewer, athletes=[scene.athlete], purposes=["record", "availability"])
        assert (days_here(viewer=viewer, athlete=scene.athlete, answers=answers) is not None) is is_told
