"""The welfare lead alone withholds a minor's data from a guardian; it acts at once and can be undone."""

import re

import pytest

from athletes.models import AccessLogEntry, StaffRole, Withholding
from tests.people import link_guardian

WITHHOLD, BACK = "/welfare/views/withhold", "/welfare/views/give-back"


def pair(scene, athlete=None):
    return {"pair": f"{(athlete or scene.child).pk}:{scene.guardian.pk}"}


def sees_child(scene, signed_in):
    return "Ivo" in signed_in(scene.guardian).get("/guardian/family").content.decode()


def test_a_view_is_withheld_and_given_back(scene, signed_in):
    browser = signed_in(scene.welfare)
    assert "Ivo Tester, from Greta Tester" in browser.get("/welfare/views").content.decode()
    assert sees_child(scene, signed_in)
    assert browser.post(WITHHOLD, pair(scene)).status_code == 302
    assert not sees_child(scene, signed_in)
    body = browser.get("/welfare/views").content.decode()
    assert "from Greta Tester since" in body and f'action="{BACK}"' in body
    browser.post(WITHHOLD, pair(scene))
    assert Withholding.objects.count() == 1
    fields = dict(re.findall(r'name="(athlete_id|guardian_id)" value="([^"]+)"', body))
    assert browser.post(BACK, fields).status_code == 302
    assert sees_child(scene, signed_in)
    assert browser.post(WITHHOLD, fields).status_code == 302  # the undo bar of giving back
    assert not sees_child(scene, signed_in)
    lines = AccessLogEntry.objects.filter(kind="guardian_view").order_by("seq").values_list("verb", "code")
    assert list(lines) == [("stop", "WELFARE_LEAD"), ("opened", "WELFARE_LEAD"), ("stop", "WELFARE_LEAD")]


def test_the_guardian_may_still_stop_what_was_allowed(scene, signed_in):
    signed_in(scene.welfare).post(WITHHOLD, pair(scene))
    page = f"/guardian/permissions/{scene.child.pk}"
    assert signed_in(scene.guardian).get(page).status_code == 200


def test_nobody_withholds_in_the_own_case_nor_from_eighteen_on(scene, signed_in):
    link_guardian(scene.welfare, scene.child)
    link_guardian(scene.guardian, scene.adult_athlete)
    browser = signed_in(scene.welfare)
    answers = [browser.post(WITHHOLD, pair(scene, one)) for one in (scene.child, scene.adult_athlete)]
    assert [one.status_code for one in answers] == [400, 400]
    assert browser.post(WITHHOLD, {}).status_code == 400
    assert Withholding.objects.count() == 0


@pytest.mark.parametrize("who", ["admin", "head_coach", "coach", "guardian", "athlete", "stranger"])
def test_to_others_the_page_is_absent(scene, signed_in, who):
    StaffRole.objects.create(club=scene.stranger_club, person=scene.stranger, role="welfare", first_day="2020-01-01")
    browser = signed_in(getattr(scene, who))
    answers = [browser.get("/welfare/views"), browser.post(WITHHOLD, pair(scene))]
    if who == "stranger":  # a welfare lead, of another club
        assert "Ivo" not in answers[0].content.decode()
        answers = answers[1:]
    assert {one.status_code for one in answers} == {404}
    assert Withholding.objects.count() == 0
