"""One's own sign-ins: listed, ended, how long they hold; a proof before acts that give away much; limits on tries."""

from datetime import datetime, timedelta

import pytest
from django.contrib.sessions.models import Session
from django.test import Client

from athletes.core.tries import PASSWORD as AT_HOME
from athletes.core.tries import PASSWORD_ELSEWHERE
from athletes.models import AccessLogEntry, PeopleStep, PermissionEvent, SignIn, Tries
from athletes.services.sign_ins import LIFE, device_words
from athletes.services.steps import undo_step
from athletes.viewer import viewer_for
from tests.people import PASSWORD

NEW = "pewter kettle under oak"
FIREFOX = "Mozilla/5.0 (Android 14; Mobile; rv:140.0) Gecko/140.0 Firefox/140.0"


@pytest.fixture
def clock(monkeypatch):
    """The clock of sign-ins, to be moved."""
    from teamtrack.common import clock as real

    class Moved:
        by = timedelta()

        def now(self) -> datetime:
            return real.utc_now() + self.by

    moved = Moved()
    for module in ("sign_ins", "sign_in", "tries"):
        monkeypatch.setattr(f"athletes.services.{module}.utc_now", moved.now)
    monkeypatch.setattr("athletes.web.step_up.utc_now", moved.now)
    return moved


def sign_in(account, client=None, password=PASSWORD, **more):
    browser = client or Client()
    return browser, browser.post("/sign-in", {"username": account.username, "password": password} | more)


def test_each_is_listed_and_ended_alone(scene):
    phone, _done = sign_in(scene.guardian.account, Client(headers={"User-Agent": FIREFOX}))
    desk, _done = sign_in(scene.guardian.account)
    page = desk.get("/me/sign-ins").content.decode()
    assert "Firefox, Android" in page and "this one" in page and "127.0.0.1" not in page
    other = SignIn.objects.get(device="Firefox, Android")
    assert sign_in(scene.athlete.account)[0].post(f"/me/sign-ins/{other.pk}/end").status_code == 404
    assert desk.post(f"/me/sign-ins/{other.pk}/end").status_code == 302
    assert phone.get("/guardian/family").status_code == 302
    assert desk.get("/guardian/family").status_code == 200


def test_all_others_end_at_once(scene):
    browsers = [sign_in(scene.guardian.account)[0] for _ in range(3)]
    assert browsers[0].post("/me/sign-ins/others/end").status_code == 302
    assert [one.get("/guardian/family").status_code for one in browsers] == [200, 302, 302]
    assert SignIn.objects.filter(person=scene.guardian).count() == 1


def test_an_admin_ends_those_of_a_lost_phone_and_the_owner_is_told(scene, signed_in):
    phone, _done = sign_in(scene.coach.account)
    admin, page = signed_in(scene.admin), f"/admin/staff/{scene.coach.pk}"
    assert "is signed in on 1 phone or browser" in admin.get(page).content.decode()
    end = f"/admin/people/{scene.coach.pk}/sign-ins/end"
    for _twice in range(2):
        assert admin.post(end, {"page": "staff"})["Location"] == page
    assert phone.get("/coach/athletes").status_code == 302
    [line] = AccessLogEntry.objects.filter(club=scene.club, kind="sign_in", verb="ended", actor_role="admin")
    assert line.code == "ALL"
    again, _done = sign_in(scene.coach.account)
    assert "ended all your sign-ins" in again.get("/coach/athletes").content.decode()
    again.post("/me/sign-ins/read")
    assert "ended all your sign-ins" not in again.get("/coach/athletes").content.decode()
    assert admin.get(f"/admin/people/{scene.guardian.pk}").content.decode().count("is signed in nowhere") == 1
    assert "under My sign-ins" in admin.post(end.replace(str(scene.coach.pk), str(scene.admin.pk)), {"page": "staff"},
                                             follow=True).content.decode()  # fmt: skip
    assert signed_in(scene.head_coach).post(end).status_code == 404


def test_signing_out_leaves_no_row(scene):
    browser, _done = sign_in(scene.guardian.account)
    browser.post("/sign-out")
    assert not SignIn.objects.exists()


def test_another_in_the_same_browser_is_another_sign_in(scene):
    browser, _done = sign_in(scene.guardian.account)
    before = browser.cookies["sessionid"].value
    browser.post("/api/v1/sign-in", {"username": scene.athlete.account.username, "password": PASSWORD},
                 "application/json")  # fmt: skip
    assert browser.cookies["sessionid"].value != before
    assert not Session.objects.filter(session_key=before).exists()
    assert browser.get("/api/v1/me").json()["person"] == str(scene.athlete.pk)
    assert scene.guardian.full_name not in browser.get("/me/sign-ins").content.decode()


def test_a_new_password_ends_the_others_and_needs_the_old_one(scene):
    other, _done = sign_in(scene.guardian.account)
    browser, _done = sign_in(scene.guardian.account)
    words = {"old": PASSWORD, "new": NEW, "again": NEW}
    for change, said in (
        ({"old": "not this"}, "This is not right"), ({"again": "other words here"}, "The two differ"),
        ({"new": "too short", "again": "too short"}, "At least 15 characters"),
    ):  # fmt: skip
        refused = browser.post("/me/password", words | change)
        assert refused.status_code == 400 and said in refused.content.decode()
    assert browser.post("/me/password", words).status_code == 302
    assert (browser.get("/guardian/family").status_code, other.get("/guardian/family").status_code) == (200, 302)
    assert "this one" in browser.get("/me/sign-ins").content.decode()
    assert sign_in(scene.guardian.account)[1].status_code == 200
    assert sign_in(scene.guardian.account, password=NEW)[1].status_code == 302


@pytest.mark.parametrize(
    ("who", "shared", "held_min", "gone_min"),
    [
        ("guardian", False, 59, 61), ("admin", False, 14, 16), ("athlete", False, 13 * 1440, 14 * 1440 + 1),
        ("athlete", True, 4, 6), ("coach", True, 4, 6),
    ],
)  # fmt: skip
def test_without_a_sign_of_life_it_ends(scene, clock, who, shared, held_min, gone_min):
    for minutes, expected in ((held_min, 200), (gone_min, 302)):
        clock.by = timedelta()
        browser, _done = sign_in(getattr(scene, who).account, **({"shared": "on"} if shared else {}))
        clock.by = timedelta(minutes=minutes)
        assert browser.get("/me/sign-ins").status_code == expected


@pytest.mark.parametrize(
    ("who", "shared", "hours"), [("coach", False, 12), ("admin", False, 8), ("guardian", False, 24), ("coach", True, 1)]
)
def test_however_busy_it_ends(scene, clock, who, shared, hours):
    clock.by = timedelta()
    browser, _done = sign_in(getattr(scene, who).account, **({"shared": "on"} if shared else {}))
    for part in range(1, hours * 60 // 4):
        clock.by = timedelta(minutes=4 * part)
        if part % 10 == 0 or shared or part > hours * 15 - 3:
            assert browser.get("/me/sign-ins").status_code == 200
        else:
            session = browser.session
            session[LIFE] = session[LIFE] | {"seen": clock.now().timestamp()}
            session.save()
    clock.by = timedelta(hours=hours, seconds=1)
    assert browser.get("/me/sign-ins").status_code == 302


def test_on_a_shared_phone_the_name_stands_on_every_page_and_nothing_is_kept(scene):
    browser, _done = sign_in(scene.athlete.account, shared="on")
    for place in ("/today", "/me/sign-ins", "/athlete/permissions"):
        page = browser.get(place)
        assert "is signed in on a phone that is not their own" in page.content.decode()
        assert 'data-shared-idle="300"' in page.content.decode()
        assert not page.has_header("Phone-Keeps")
    assert browser.session.get_expire_at_browser_close()
    assert "device" not in browser.cookies
    own, _done = sign_in(scene.athlete.account)
    assert own.get("/today").has_header("Phone-Keeps")
    assert "not their own" not in own.get("/today").content.decode()


def test_a_proof_is_asked_once_and_what_was_typed_goes_on(scene, clock):
    browser, _done = sign_in(scene.admin.account)
    clock.by = timedelta(minutes=11)
    said = {f"{scene.child.pk} health": "yes", "witness": "W. Tester"}
    place = f"/admin/consents/{scene.guardian.pk}/typed"
    asked = browser.post(place, said)
    page = asked.content.decode()
    assert "Is it still you?" in page and 'value="W. Tester"' in page and f'action="{place}"' in page
    assert not PermissionEvent.objects.exists()
    wrong = browser.post(place, said | {"proof": "not this one"})
    assert wrong.status_code == 403 and "not this one" not in wrong.content.decode()
    done = browser.post(place, said | {"proof": PASSWORD})
    assert done.status_code == 302
    assert PermissionEvent.objects.get().witness == "W. Tester"
    PermissionEvent.objects.all().delete()
    assert browser.post(place, said).status_code == 302, "asked once in ten minutes"


def test_a_copy_asks_for_a_proof_and_leads_there(scene, clock):
    browser, _done = sign_in(scene.athlete.account)
    clock.by = timedelta(minutes=11)
    place = f"/athlete/copy/{scene.athlete.pk}/file"
    asked = browser.get(place)
    assert asked["Location"].startswith("/me/prove?next=%2Fathlete%2Fcopy%2F")
    assert browser.get(asked["Location"]).status_code == 200
    done = browser.post("/me/prove", {"next": place, "proof": PASSWORD})
    assert done["Location"] == place
    assert browser.get(place)["Content-Disposition"].startswith("attachment")
    assert browser.post("/me/prove", {"next": "https://elsewhere.example/", "proof": PASSWORD})["Location"] == "/"


def test_adding_staff_asks_for_a_proof_and_a_role_given_ended_or_undone_ends_that_person_s_sign_ins(scene, clock):
    admin, _done = sign_in(scene.admin.account)
    clock.by = timedelta(minutes=11)
    new = {"given_name": "Runa", "family_name": "Tester", "birth_date": "1990-02-03", "role": "coach"}
    assert "Is it still you?" in admin.post("/admin/staff", new).content.decode()
    assert admin.post("/admin/staff", new | {"proof": PASSWORD}).status_code == 302
    place = f"/admin/staff/{scene.coach.pk}/roles"
    for address in (place, f"{place}/end"):
        coach, _done = sign_in(scene.coach.account)
        assert admin.post(address, {"role": "admin"}).status_code == 302
        assert coach.get("/today")["Location"].startswith("/sign-in")
    coach, _done = sign_in(scene.coach.account)
    undo_step(viewer=viewer_for(scene.admin, "admin"), step_id=PeopleStep.objects.latest("at").pk)
    assert coach.get("/today")["Location"].startswith("/sign-in")
    assert SignIn.objects.filter(person=scene.admin).exists()


def test_setting_up_a_factor_asks_for_a_proof(scene, clock):
    browser, _done = sign_in(scene.athlete.account)
    clock.by = timedelta(minutes=11)
    for place in ("/me/second-factor/app", "/me/second-factor/passkey"):
        assert browser.get(place)["Location"] == f"/me/prove?next={place.replace('/', '%2F')}"
    for place in ("/me/second-factor/codes", "/me/second-factor/1/remove", "/me/sign-ins/others/end"):
        assert "Is it still you?" in browser.post(place).content.decode()


def test_the_invented_club_s_accounts_are_not_asked(scene, clock):
    scene.admin.account.is_demo = True
    scene.admin.account.save()
    browser, _done = sign_in(scene.admin.account)
    clock.by = timedelta(days=3)
    typed = browser.post(f"/admin/consents/{scene.guardian.pk}/typed", {f"{scene.child.pk} health": "yes"})
    assert typed.status_code == 302


def wrong(username, client=None, **more):
    words = {"username": username, "password": "not the right words"}
    return (client or Client()).post("/sign-in", words, **more)


@pytest.mark.parametrize("who", ["known", "unknown"])
def test_too_many_wrong_passwords_wait_alike_for_known_and_unknown(scene, clock, who):
    username = scene.athlete.account.username if who == "known" else "nobody-here"
    for _ in range(PASSWORD_ELSEWHERE.most):
        assert wrong(username).status_code == 200
    held = wrong(username)
    assert held.status_code == 429 and 880 <= int(held["Retry-After"]) <= 900
    assert "Please wait 15 minutes" in held.content.decode()
    body = {"username": username, "password": PASSWORD}
    over_api = Client().post("/api/v1/sign-in", body, "application/json")
    assert (over_api.status_code, over_api.json()["code"]) == (429, "TOO_MANY")
    assert over_api.has_header("Retry-After")
    clock.by = timedelta(minutes=14, seconds=30)
    assert wrong(username).status_code == 429, "refused tries do not lengthen the wait, nor shorten it"
    clock.by = timedelta(minutes=15, seconds=5)
    assert wrong(username).status_code == 200


def test_who_guesses_from_elsewhere_never_locks_out_the_owner_s_own_phone(scene):
    phone, _done = sign_in(scene.athlete.account)
    assert "device" in phone.cookies
    phone.post("/sign-out")
    for _ in range(PASSWORD_ELSEWHERE.most + 1):
        wrong(scene.athlete.account.username, REMOTE_ADDR="192.0.2.9")
    assert wrong(scene.athlete.account.username, REMOTE_ADDR="192.0.2.9").status_code == 429
    assert sign_in(scene.athlete.account, phone)[1].status_code == 302
    stolen = Client()
    stolen.cookies["device"] = "made:up"
    assert sign_in(scene.athlete.account, stolen)[1].status_code == 429


def test_the_owner_s_own_phone_takes_more_wrong_words_than_a_browser_from_elsewhere(scene):
    phone, _done = sign_in(scene.athlete.account)
    phone.post("/sign-out")
    answers = [wrong(scene.athlete.account.username, phone).status_code for _ in range(AT_HOME.most + 1)]
    assert answers == [200] * AT_HOME.most + [429] and AT_HOME.most > PASSWORD_ELSEWHERE.most


def test_right_words_forget_the_wrong_ones(scene):
    for _ in range(PASSWORD_ELSEWHERE.most - 1):
        wrong(scene.athlete.account.username)
    assert sign_in(scene.athlete.account)[1].status_code == 302
    assert wrong(scene.athlete.account.username).status_code == 200
    assert scene.athlete.account.username not in str(list(Tries.objects.values()))


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (FIREFOX, "Firefox, Android"), ("", ""), ("curl/8", ""),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) Version/18.0 Safari/604.1", "Safari, iOS"),
        ("Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537 Chrome/140.0 Safari/537", "Chromium, Windows"),
    ],
)  # fmt: skip
def test_a_device_is_told_in_words(agent, words):
    assert device_words(agent) == words
