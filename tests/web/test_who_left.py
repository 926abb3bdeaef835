"""Whoever has no part in the club any more is told so, with a way out; what is kept about them stays theirs to see."""

from datetime import timedelta

import pytest
from django.test import Client

from athletes.models import AccessLogEntry, DataRequest, Guardianship, Membership, PermissionEvent, StaffRole
from teamtrack.common.clock import today_in
from tests.doors import DOORS, WRITTEN
from tests.people import PASSWORD, answer, make_athlete, make_person
from tests.test_doors import address

OWN_DATA = {"athlete-requests", "athlete-permissions", "who-looked", "copy-page", "copy-file"}
OWN_WRITTEN = {
    "request-ask", "request-take-back", "permission-stop", "who-looked-ask", "guardian-view-answer",
    "guardian-view-take-back",
}  # fmt: skip


@pytest.fixture
def gone(scene):
    """The athlete of the scene, who left with yesterday."""
    yesterday = today_in(scene.club.timezone) - timedelta(days=1)
    answer(scene.athlete, scene.athlete, "health")
    for rows in (Membership.objects.filter(athlete=scene.athlete), scene.athlete.group_memberships):
        rows.update(last_day=yesterday)
    return scene.athlete


def signed_in_by_words(person):
    browser = Client()
    found = browser.post("/sign-in", {"username": person.account.username, "password": PASSWORD}, follow=True)
    return browser, found


@pytest.mark.parametrize("who", ["coach", "care_guardian", "admin", "nobody"])
def test_who_has_no_part_is_told_so_with_a_way_out(scene, who):
    yesterday = today_in(scene.club.timezone) - timedelta(days=1)
    person = make_person(scene.club, "Lene", account=True) if who == "nobody" else getattr(scene, who)
    StaffRole.objects.filter(person=person).update(last_day=yesterday)
    Guardianship.objects.filter(guardian=person).update(last_day=yesterday)

    browser, found = signed_in_by_words(person)

    text = found.content.decode()
    assert (found.status_code, found.request["PATH_INFO"]) == (200, "/")
    assert "Nothing is set up for you today" in text and "Tell an admin" in text and person.full_name in text
    assert not [one for one in (scene.athlete, scene.child, scene.admin) if one != person and one.given_name in text]
    assert "/athlete/requests" not in text, "never an athlete here"
    assert browser.get("/me/sign-ins").status_code == 200
    assert browser.get("/athlete/requests").status_code == 404
    assert browser.post("/sign-out")["Location"] == "/sign-in"
    assert browser.get("/")["Location"].startswith("/sign-in")


def test_who_left_sees_what_is_kept_and_nothing_else(scene, gone):
    browser, found = signed_in_by_words(gone)
    assert found.status_code == 200 and "Your last day in Chalk Lane AC" in found.content.decode()

    opens = {"get": set(), "post": set()}
    for name in DOORS:
        method = "post" if name in WRITTEN else "get"
        if not name.startswith("api-") and getattr(browser, method)(address(name, scene)).status_code != 404:
            opens[method].add(name)
    assert opens == {"get": OWN_DATA, "post": OWN_WRITTEN}
    assert all(browser.get(place).status_code == 404 for place in ("/today", "/api/v1/sessions"))


def test_who_left_takes_a_copy_stops_and_asks(scene, gone):
    browser, _found = signed_in_by_words(gone)
    copy = browser.get(address("copy-file", scene)).json()
    assert {"person", "membership", "answer"} <= {one["kind"] for one in copy["items"]}
    line = AccessLogEntry.objects.get(kind="copy")
    assert (line.actor_role, line.verb, line.code) == ("athlete", "read", "OWN_DATA")

    page = browser.get("/athlete/permissions").content.decode()
    assert "left the club on" in page and "Stop this now" in page
    assert 'name="answer"' not in page.split('id="guardians"')[0], "nothing new is asked of whoever has left"
    stopped = browser.post(address("permission-stop", scene), {"purpose": "health"}, follow=True)
    assert "Undo" not in stopped.content.decode(), "a yes would be asked anew"
    assert PermissionEvent.objects.filter(purpose="health").order_by("at").last().answer == "withdrawn"
    assert browser.post(address("permission-answer", scene), {"purpose": "health", "answer": "yes"}).status_code == 404

    before = DataRequest.objects.count()
    assert browser.post(address("request-ask", scene), {"wanted": "erasure record"}).status_code == 302
    assert DataRequest.objects.count() == before + 1


def test_who_left_and_helps_the_club_finds_the_way_under_their_sign_ins(scene, gone):
    first = today_in(scene.club.timezone)
    StaffRole.objects.create(club=scene.club, person=gone, role="coach", first_day=first)
    browser, found = signed_in_by_words(gone)
    assert found.request["PATH_INFO"] == "/today"
    assert "/athlete/requests" in browser.get("/me/sign-ins").content.decode()
    assert [browser.get(address(name, scene)).status_code for name in sorted(OWN_DATA)] == [200] * len(OWN_DATA)


def test_who_comes_back_is_an_athlete_again(scene, gone):
    Membership.objects.create(club=scene.club, athlete=gone, first_day=today_in(scene.club.timezone))
    _browser, found = signed_in_by_words(gone)
    assert found.request["PATH_INFO"] == "/today"
    assert "left the club" not in found.content.decode()


def test_another_s_data_stay_shut_to_who_left(scene, gone):
    browser, _found = signed_in_by_words(gone)
    for other in (scene.adult_athlete, make_athlete(scene.club, "Nuria", scene.group)):
        assert browser.get(f"/athlete/copy/{other.pk}/file").status_code == 404
        assert browser.post(f"/athlete/requests/{other.pk}/ask", {"wanted": "access"}).status_code == 404
