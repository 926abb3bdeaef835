"""A group's handover page: points and words that worked, no health, for whoever coaches the group on that day."""

from datetime import date, timedelta

from athletes.models import Clearance, CoachAssignment, Restriction
from sessions.models import Focus, SessionCoach
from teamtrack.common.clock import today_in
from tests.entries import make_pain, see, tell
from tests.people import make_session


def noted(scene):
    """Tall hips in hand; after "tall as a mast" the next stride held, after "up, up" nobody looked."""
    session = scene.training_session
    Focus.objects.create(
        club=scene.club, athlete=scene.athlete, feature=scene.feature, since=date(2026, 1, 1), set_by=scene.coach
    )
    tell(session, scene.athlete, scene.coach, 1, "tall as a mast")
    see(session, scene.athlete, scene.coach, 2, "held")
    tell(session, scene.athlete, scene.coach, 3, "up, up")
    make_pain(session, scene.athlete, scene.coach)


def page(scene):
    return f"/coach/groups/{scene.group.pk}/hand-over"


def test_points_and_words_that_worked_stand_there_and_no_health(scene, signed_in):
    noted(scene)
    text = signed_in(scene.coach).get(page(scene)).content.decode()
    for words in ("Noela Tester", "Tall hips", "tall as a mast", "Destroy after"):
        assert words in text
    for words in ("up, up", "knee", "Pain"):
        assert words not in text


def test_of_whom_nothing_may_be_shown_nothing_stands_there(scene, signed_in):
    noted(scene)
    Restriction.objects.create(club=scene.club, athlete=scene.athlete, purpose="feedback", first_day=date(2026, 1, 1))
    text = signed_in(scene.coach).get(page(scene)).content.decode()
    assert "Noela" not in text
    assert "Of 1 athlete nothing may be shown" in text


def test_it_opens_with_the_first_day_and_shuts_with_the_last(scene, signed_in):
    today = today_in(scene.club.timezone)
    CoachAssignment.objects.filter(coach=scene.coach).update(last_day=today - timedelta(days=1))
    coming = CoachAssignment.objects.create(
        club=scene.club, coach=scene.other_coach, group=scene.group, first_day=today + timedelta(days=1)
    )
    assert signed_in(scene.coach).get(page(scene)).status_code == 404
    assert signed_in(scene.other_coach).get(page(scene)).status_code == 404
    CoachAssignment.objects.filter(pk=coming.pk).update(first_day=today)
    assert signed_in(scene.other_coach).get(page(scene)).status_code == 200


def test_the_week_points_out_sessions_with_too_few_adults(scene, signed_in):
    today = today_in(scene.club.timezone)
    browser = signed_in(scene.coach)
    week = f"/coach/week/{today:%G-W%V}"
    assert "too few adults" not in browser.get(week).content.decode()
    alone = make_session(scene.group, day=today, coaches=(scene.coach,), helpers=(scene.helper,))
    assert "1 session has too few adults" in browser.get(week).content.decode()
    SessionCoach.objects.create(club=scene.club, training_session=alone, coach=scene.second_coach)
    assert "too few adults" not in browser.get(week).content.decode()
    Clearance.objects.filter(coach=scene.second_coach).update(expires_on=today - timedelta(days=1))
    assert "2 sessions have too few adults" in browser.get(week).content.decode()
