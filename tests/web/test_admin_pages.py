"""The admin's pages: what is to do, the roster with gaps first, the access log."""

from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from athletes.models import Clearance, ContactNumber
from athletes.services.access_log import Act, log_acts
from athletes.viewer import viewer_for
from teamtrack.common.clock import today_in
from tests.people import make_athlete

PAGES = ("/admin/to-do", "/admin/roster", "/admin/access-log")


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("who", ["coach", "head_coach", "athlete", "guardian", "welfare", "stranger"])
def test_only_the_admin_sees_them(scene, signed_in, page, who):
    assert signed_in(getattr(scene, who)).get(page).status_code == 404


def test_gaps_stand_first_and_nobody_of_another_club_is_there(scene, signed_in):
    ContactNumber.objects.create(club=scene.club, athlete=scene.athlete, name="G", relation="mother", phone="1")
    text = signed_in(scene.admin).get("/admin/roster?gap=no_contact").content.decode()
    assert scene.child.full_name in text
    assert scene.athlete.full_name not in text
    assert scene.stranger_athlete.full_name not in text


def test_a_check_running_out_is_on_the_list(scene, signed_in):
    Clearance.objects.filter(coach=scene.coach).update(expires_on=today_in(scene.club.timezone) + timedelta(days=20))
    text = signed_in(scene.admin).get("/admin/to-do").content.decode()
    assert scene.coach.full_name in text
    assert scene.second_coach.full_name not in text


def test_who_looked_shows_one_s_own_lines_alone(scene, signed_in):
    with transaction.atomic():
        log_acts(viewer=viewer_for(scene.coach, "coach"), acts=[Act("read", "health", scene.athlete.pk)])
    own = signed_in(scene.athlete).get("/athlete/who-looked").content.decode()
    assert scene.coach.full_name in own
    other = signed_in(scene.child).get("/athlete/who-looked").content.decode()
    assert scene.coach.full_name not in other
    assert scene.coach.full_name in signed_in(scene.welfare).get("/welfare/access-log?check=1").content.decode()


@pytest.mark.parametrize("page", PAGES)
def test_the_number_of_queries_does_not_grow(scene, signed_in, page):
    browser = signed_in(scene.admin)
    counts = []
    for more in (0, 3, 27):
        for number in range(more):
            athlete = make_athlete(scene.club, f"More{number}", scene.group, account=False)
            with transaction.atomic():
                log_acts(viewer=viewer_for(scene.coach, "coach"), acts=[Act("read", "health", athlete.pk)])
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert browser.get(page).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1] == counts[2]
