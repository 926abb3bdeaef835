"""Call-off in two taps, the call list, another coach in three, thunder and heat as Today shows them."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest

from athletes.models import AccessLogEntry
from sessions.models import Caution, Notice, TrainingSession
from teamtrack.common.clock import now_in, utc_now
from tests.people import Scene, make_coach
from tests.web.test_week_page import text

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def still_to_come(scene: Scene) -> None:
    """The scene's session is today and not over, whatever the hour."""
    now = now_in(scene.club.timezone)
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
    starts_at = max(midnight, now - timedelta(minutes=5))
    TrainingSession.objects.update(starts_at=starts_at, ends_at=starts_at + timedelta(minutes=65))


def test_two_taps_call_it_off_and_the_list_shrinks_by_one_tap_each(scene, signed_in):
    coach, head = signed_in(scene.coach), signed_in(scene.head_coach)
    where = f"/coach/sessions/{scene.training_session.pk}/call-off"
    assert "Call off: tell 7 people" in text(coach.get(where))
    assert coach.post(where, {"reason": "weather"}).status_code == 302
    today = text(coach.get("/today"))
    assert "called off Weather" in today and "Called off: 7 people are told" in today
    page = head.get("/head-coach/call-list")
    assert "have not reached 7 people" in text(page)
    ticks = re.findall(
        r'action="(/head-coach/call-list/[^"]+/reached)">.*?name="until" value="([^"]+)"', page.content.decode()
    )
    assert len(ticks) == 7
    assert head.post(ticks[0][0], {"until": ticks[0][1]}).status_code == 302
    page = head.get("/head-coach/call-list")
    assert "have not reached 6 people" in text(page)
    undo = re.search(r'action="([^"]+/not-reached)".*?name="at" value="([^"]+)"', page.content.decode(), re.S)
    assert head.post(undo[1], {"at": undo[2]}).status_code == 302
    assert "have not reached 7 people" in text(head.get("/head-coach/call-list"))
    assert "A change has not reached 7 people" in text(signed_in(scene.admin).get("/admin/to-do"))
    for wrong in ({}, {"until": "x"}, {"until": "2027-01-01T00:00"}, {"until": "2001-01-01T00:00:00Z"}):
        assert head.post(ticks[0][0], wrong).status_code == 404
    coach.post(f"/coach/sessions/{scene.training_session.pk}/call-on")
    assert "All reached" in text(head.get("/head-coach/call-list"))


def test_opening_what_changed_reaches_a_guardian(scene, signed_in):
    signed_in(scene.coach).post(f"/coach/sessions/{scene.training_session.pk}/call-off", {"reason": ""})
    guardian = signed_in(scene.guardian)
    page = guardian.get("/guardian/family").content.decode()
    opening = re.search(r'hx-post="([^"]+/seen)" hx-trigger="click from:find summary once"', page)
    assert guardian.post(opening[1], headers={"HX-Request": "true"}).status_code == 204
    assert Notice.objects.filter(to=scene.guardian, seen_at__isnull=False).count() == 1


def test_three_taps_give_it_to_another_coach(scene, signed_in):
    spare = make_coach(scene.club, "Sven")
    coach = signed_in(scene.coach)
    where = f"/coach/sessions/{scene.training_session.pk}/cover"
    page = text(coach.get(where))
    assert "Sven Tester" in page and "check until 1 Jan 2099" in page and "adults then 2, wanted 2" in page
    assert coach.post(where, {"from_coach": scene.coach.pk}).status_code == 400
    assert coach.post(where, {"from_coach": scene.coach.pk, "to_coach": spare.pk}).status_code == 302
    assert coach.get(where).status_code == 404
    assert "Sprint technique" in text(signed_in(spare).get("/today"))


def test_thunder_counts_thirty_minutes_from_the_last_and_heat_is_dated(scene, signed_in):
    coach, athlete = signed_in(scene.coach), signed_in(scene.athlete)
    coach.post("/coach/cautions/thunder")
    first = Caution.objects.get()
    Caution.objects.update(at=first.at - timedelta(minutes=20))
    left = int(re.search(r'data-count-down="(\d+)"', athlete.get("/today").content.decode())[1])
    assert 9 * 60 < left <= 10 * 60
    coach.post("/coach/cautions/thunder")
    left = int(re.search(r'data-count-down="(\d+)"', athlete.get("/today").content.decode())[1])
    assert 29 * 60 < left <= 30 * 60
    newest = Caution.objects.first()
    coach.post(f"/coach/cautions/{newest.pk}/back")
    Caution.objects.filter(taken_back_at=None).update(at=first.at - timedelta(minutes=31))
    page = text(athlete.get("/today"))
    assert "now the coach decides" in page or first.at.astimezone(now_in(scene.club.timezone).tzinfo).hour == 0
    coach.post("/coach/cautions/heat")
    assert "Heat (" in text(athlete.get("/today")) and "112" in text(athlete.get("/today"))
    assert athlete.post("/coach/cautions/heat").status_code == 404
    assert "Thunder" not in text(signed_in(scene.stranger).get("/today")).replace("Thunder heard", "")
    assert signed_in(scene.stranger).post(f"/coach/cautions/{newest.pk}/back").status_code == 404


def test_thunder_that_a_phone_kept_is_dated_when_it_was_heard_and_noted_once(scene, signed_in):
    coach, where = signed_in(scene.coach), f"/coach/sessions/{scene.training_session.pk}/thunder"
    told = {"id": str(uuid4()), "ago_s": "600"}
    for _ in range(2):
        assert coach.post(where, told | {"ago_s": "605"}).status_code == 204
    [kept] = Caution.objects.all()
    assert abs(utc_now() - timedelta(seconds=605) - kept.at) < timedelta(seconds=60)
    page = coach.get(f"/coach/sessions/{scene.training_session.pk}").content.decode()
    assert 600 < int(re.search(r'data-thunder-ago="(\d+)"', page)[1]) < 700
    for wrong in ({"ago_s": "-1"}, {"ago_s": "90000"}, {"id": "x"}, {"ago_s": ""}):
        assert coach.post(where, told | wrong).status_code == 400
    for who in (scene.second_coach, scene.stranger):
        assert signed_in(who).post(where, told | {"back": "1"}).status_code == 404
    assert coach.post(where, {"id": str(uuid4()), "ago_s": "1", "back": "1"}).status_code == 204, "it never came here"
    assert coach.post(where, told | {"back": "1"}).status_code == 204
    kept.refresh_from_db()
    assert (Caution.objects.count(), kept.taken_back_at is None) == (1, False)
    verbs = AccessLogEntry.objects.filter(kind="caution").order_by("seq").values_list("verb", flat=True)
    assert list(verbs) == ["say", "take_back"]
