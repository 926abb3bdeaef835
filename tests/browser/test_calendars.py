"""Calendars and meets on screen: an address made, copied and stopped; pages with much on them without a fault."""

from datetime import timedelta

import pytest

from athletes.viewer import viewer_for
from sessions.models import CalendarAddress
from sessions.services.calendar_readings import Purpose, look_at_file
from sessions.services.meets import MeetFacts, add_meet, enter_athlete
from tests.browser.conftest import PHONE, SMALL, OpenPage
from tests.browser.test_every_page import faults_of
from tests.people import Scene, answer

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_an_address_is_made_copied_and_stopped(live_scene: Scene, open_page: OpenPage) -> None:
    answer(live_scene.child, live_scene.guardian, "feed", names=(live_scene.child, live_scene.guardian))
    page = open_page(live_scene.guardian, "/guardian/family", PHONE)
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.locator("details.me summary").click()
    page.get_by_role("link", name="Calendar address").click()
    page.get_by_role("button", name="Make an address").click()
    page.get_by_role("button", name="Copy").click()
    page.get_by_text("Copied.").wait_for()
    copied = page.evaluate("() => navigator.clipboard.readText()")
    assert copied == page.get_by_role("textbox", name="Address").input_value()
    assert page.request.get(copied).headers["content-type"].startswith("text/calendar")
    assert faults_of(page) == []
    page.get_by_role("button", name="Stop it").click()
    page.get_by_text("No address yet.").wait_for()
    assert not CalendarAddress.objects.filter(stopped_at=None).exists()


def test_a_meet_and_a_file_with_much_on_them_are_whole(live_scene: Scene, open_page: OpenPage) -> None:
    viewer = viewer_for(live_scene.head_coach, "head_coach")
    places = []
    for days in (8, -8):
        starts_at = viewer.now + timedelta(days=days)
        facts = MeetFacts("Frostfield indoor", starts_at, starts_at + timedelta(hours=5), "Frostfield Hall", "main", 40)
        meet = add_meet(viewer=viewer, facts=facts, group_ids=[live_scene.group.pk])
        for athlete in (live_scene.athlete, live_scene.child):
            enter_athlete(viewer=viewer, session_id=meet.pk, athlete_id=athlete.pk, event="100 m", own_mark="12.84")
        places.append(f"/head-coach/meets/{meet.pk}")
    day = f"{viewer.today + timedelta(days=20):%Y%m%d}"
    lines = ("BEGIN:VCALENDAR", "BEGIN:VEVENT", f"DTSTART:{day}T100000", "SUMMARY:Lantern open", "END:VEVENT")
    bad = ("BEGIN:VEVENT", "SUMMARY:Bad", "END:VEVENT", "END:VCALENDAR")
    reading = look_at_file(
        viewer=viewer,
        data="\r\n".join(lines + bad).encode(),
        file_name="a-very-long-name-of-a-calendar-file-from-school.ics",
        purpose=Purpose("meets", [live_scene.group.pk]),
    )
    page = open_page(live_scene.head_coach, places[0], SMALL)
    found = {}
    for place in (*places, f"{places[0]}/paper", f"/head-coach/calendar-files/{reading.pk}"):
        page.goto(place)
        page.evaluate("() => document.querySelectorAll('details.fold').forEach((one) => { one.open = true })")
        found[place] = faults_of(page)
    assert {place: faults for place, faults in found.items() if faults} == {}
