"""The second factor: set up after a proof, asked at every sign-in, each code once; put off until the club's day."""

import re
import threading
from datetime import timedelta

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import Client
from django.test.client import MULTIPART_CONTENT

from athletes.core.tries import SECOND_CODE, SECOND_CODE_KNOWN
from athletes.models import AccessLogEntry, Club, SignIn, UsedCode
from athletes.selectors.access_log import chain_fault
from athletes.services.second_factor import check_code
from athletes.sign_in_key import Unreadable, key_file, seal, unseal
from teamtrack.common.clock import today_in, utc_now
from tests.factors import code_for
from tests.people import PASSWORD

SECRET = re.compile(r'<code class="long">([A-Z2-7]+)</code>')
CODES = re.compile(r"<li><code>([0-9]{5} [0-9]{5})</code></li>")


def set_up_app(browser):
    """The secret and the recovery codes of an app that was just set up."""
    page = browser.get("/me/second-factor/app").content.decode()
    [secret] = SECRET.findall(page)
    done = browser.post("/me/second-factor/app", {"code": code_for(secret)})
    return secret, CODES.findall(done.content.decode())


def sign_in(account, client=None, **more):
    browser = client or Client()
    return browser, browser.post("/sign-in", {"username": account.username, "password": PASSWORD} | more)


def later(monkeypatch, seconds):
    """The library's clock moved: the next code is due."""
    import time

    real = time.time
    monkeypatch.setattr("allauth.mfa.totp.internal.auth.time.time", lambda: real() + seconds)
    return real() + seconds


def test_the_library_s_codes_are_those_of_the_standard():
    """RFC 4226, appendix D: the first ten codes of the secret "12345678901234567890"."""
    expected = ["755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"]
    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
    assert [format_hotp_value(hotp_value(secret, step)) for step in range(10)] == expected
    assert [code_for(secret, 30 * step) for step in range(10)] == expected


def test_an_app_is_set_up_once_its_code_is_right_and_its_secret_is_sealed(scene, signed_in):
    browser = signed_in(scene.admin)
    page = browser.get("/me/second-factor/app").content.decode()
    [secret] = SECRET.findall(page)
    assert "<svg" in page and "otpauth://totp/" in page
    assert secret not in str([row.get_decoded() for row in Session.objects.all()])
    wrong = browser.post("/me/second-factor/app", {"code": "000000"})
    assert wrong.status_code == 400 and secret in wrong.content.decode()
    assert not Authenticator.objects.exists()
    done = browser.post("/me/second-factor/app", {"code": code_for(secret)})
    assert len(CODES.findall(done.content.decode())) == 10
    kept = Authenticator.objects.get(type="totp")
    assert secret not in str(kept.data) and unseal(kept.data["secret"]) == secret
    assert key_file().stat().st_mode & 0o777 == 0o600
    lines = AccessLogEntry.objects.filter(kind="second_factor").values_list("verb", "code")
    assert set(lines) == {("set", "TOTP"), ("set", "RECOVERY_CODES")}
    assert chain_fault(club_id=scene.club.pk) is None


def test_what_is_sealed_opens_with_this_key_alone(settings, tmp_path):
    sealed = seal("a secret")
    assert unseal(sealed) == "a secret" and seal("a secret") != sealed
    for broken in (sealed[:-4] + "AAA=", "", "not sealed"):
        with pytest.raises(Unreadable):
            unseal(broken)
    settings.SIGN_IN_KEY_FILE = tmp_path / "another.key"
    with pytest.raises(Unreadable):
        unseal(sealed)


def test_signing_in_asks_for_the_code_and_takes_each_once(scene, signed_in, monkeypatch):
    secret, _codes = set_up_app(signed_in(scene.coach))
    browser, asked = sign_in(scene.coach.account, next="/coach/athletes")
    assert asked["Location"] == "/sign-in/second"
    assert browser.get("/coach/athletes").status_code == 302
    at = later(monkeypatch, 60)
    assert browser.post("/sign-in/second", {"code": "123456"}).status_code == 400
    done = browser.post("/sign-in/second", {"code": code_for(secret, at)})
    assert (done.status_code, done["Location"]) == (302, "/coach/athletes")
    assert browser.get("/coach/athletes").status_code == 200
    other, _asked = sign_in(scene.coach.account)
    again = other.post("/sign-in/second", {"code": code_for(secret, at)})
    assert again.status_code == 400 and "it was used" in again.content.decode()
    assert other.get("/coach/athletes").status_code == 302


def test_the_code_that_set_it_up_does_not_sign_in(scene, signed_in):
    secret, _codes = set_up_app(signed_in(scene.coach))
    browser, _asked = sign_in(scene.coach.account)
    assert browser.post("/sign-in/second", {"code": code_for(secret)}).status_code == 400


def test_a_recovery_code_opens_once(scene, signed_in):
    _secret, codes = set_up_app(signed_in(scene.coach))
    for expected in (302, 400):
        browser, _asked = sign_in(scene.coach.account)
        assert browser.post("/sign-in/second", {"code": codes[3]}).status_code == expected
    assert "9 left" in signed_in(scene.coach).get("/me/second-factor").content.decode()
    fresh = signed_in(scene.coach).post("/me/second-factor/codes").content.decode()
    browser, _asked = sign_in(scene.coach.account)
    assert browser.post("/sign-in/second", {"code": codes[4]}).status_code == 400
    assert browser.post("/sign-in/second", {"code": CODES.findall(fresh)[0]}).status_code == 302


def test_without_the_password_s_page_there_is_no_second(scene, client):
    assert client.get("/sign-in/second")["Location"] == "/sign-in"
    assert client.post("/sign-in/second", {"code": "123456"})["Location"] == "/sign-in"


def test_after_five_wrong_codes_it_waits_and_the_right_one_waits_too(scene, signed_in, monkeypatch):
    secret, _codes = set_up_app(signed_in(scene.coach))
    browser, _asked = sign_in(scene.coach.account)
    at = later(monkeypatch, 60)
    for _ in range(SECOND_CODE.most):
        assert browser.post("/sign-in/second", {"code": "123456"}).status_code == 400
    held = browser.post("/sign-in/second", {"code": code_for(secret, at)})
    assert held.status_code == 429 and 0 < int(held["Retry-After"]) <= 900


@pytest.mark.parametrize("api", ["", "/api/v1"])
def test_who_guesses_elsewhere_never_keeps_out_the_owner_s_own_browser(scene, signed_in, monkeypatch, api):
    """The guesser has the password and a browser known for another account, and tries each time as the wait ends."""
    _secret, codes = set_up_app(signed_in(scene.coach))
    own, guesser, of = Client(), Client(), "application/json" if api else MULTIPART_CONTENT

    def send(browser, code):
        words = {"username": scene.coach.account.username, "password": PASSWORD}
        browser.post(f"{api}/sign-in", words, of)
        return browser.post(f"{api}/sign-in/second", {"code": code}, of).status_code

    assert send(own, codes.pop()) == (200 if api else 302)
    sign_in(scene.athlete.account, guesser)
    guesser.post("/sign-out")
    assert [send(guesser, "123456") for _ in range(SECOND_CODE.most + 1)] == [400] * SECOND_CODE.most + [429]
    for waited in (1, 2, 3):
        moved = timedelta(seconds=waited * (SECOND_CODE.delay_s + 1))
        monkeypatch.setattr("athletes.services.tries.utc_now", lambda moved=moved: utc_now() + moved)
        assert [send(guesser, "123456") for _ in range(2)] == [400, 429]
        own.post("/sign-out")
        assert send(own, codes.pop()) == (200 if api else 302)
        assert own.post("/me/prove", {"next": "/", "proof": codes.pop()}).status_code == 302
        assert send(guesser, codes[0]) == 429, "the owner's right code forgets no tries made elsewhere"


def test_the_owner_s_own_browser_takes_more_wrong_codes_and_then_waits_too(scene, signed_in):
    _secret, codes = set_up_app(signed_in(scene.coach))
    own, _asked = sign_in(scene.coach.account)
    assert own.post("/sign-in/second", {"code": codes[0]}).status_code == 302
    own.post("/sign-out")
    sign_in(scene.coach.account, own)
    answers = [own.post("/sign-in/second", {"code": "123456"}).status_code for _ in range(SECOND_CODE_KNOWN.most + 1)]
    assert answers == [400] * SECOND_CODE_KNOWN.most + [429] and SECOND_CODE_KNOWN.most > SECOND_CODE.most


def test_over_the_api_the_code_comes_second(scene, signed_in, monkeypatch):
    """The driving contract: 401 SECOND_FACTOR_NEEDED, then POST /api/v1/sign-in/second."""
    secret, codes = set_up_app(signed_in(scene.coach))
    browser = Client()
    words = {"username": scene.coach.account.username, "password": PASSWORD}
    early = browser.post("/api/v1/sign-in/second", {"code": codes[0]}, "application/json")
    assert (early.status_code, early.json()["code"]) == (400, "SIGN_IN_REFUSED")
    asked = browser.post("/api/v1/sign-in", words, "application/json")
    assert (asked.status_code, asked.json()["code"]) == (401, "SECOND_FACTOR_NEEDED")
    assert browser.get("/api/v1/me").status_code == 401
    at = later(monkeypatch, 60)
    wrong = browser.post("/api/v1/sign-in/second", {"code": "123456"}, "application/json")
    assert (wrong.status_code, wrong.json()["code"]) == (400, "SIGN_IN_REFUSED")
    done = browser.post("/api/v1/sign-in/second", {"code": code_for(secret, at)}, "application/json")
    assert (done.status_code, done.json()) == (200, {"person": str(scene.coach.pk), "roles": ["coach"]})


def test_staff_are_asked_gently_until_the_day_and_then_firmly(scene):
    browser, done = sign_in(scene.admin.account, next="/admin/roster")
    assert done["Location"] == "/me/second-factor?next=%2Fadmin%2Froster"
    page = browser.get(done["Location"]).content.decode()
    assert "until then it can wait" in page and 'href="/admin/roster">Not now' in page
    assert browser.get("/admin/roster").status_code == 200
    Club.objects.update(second_factor_from=today_in(scene.club.timezone))
    held = browser.get("/admin/roster")
    assert (held.status_code, held["Location"]) == (302, "/me/second-factor")
    assert browser.get("/api/v1/me").json()["code"] == "SECOND_FACTOR_FIRST"
    assert "Not now" not in browser.get("/me/second-factor").content.decode()
    set_up_app(browser)
    assert browser.get("/admin/roster").status_code == 200


@pytest.mark.parametrize("who", ["athlete", "guardian", "helper"])
def test_others_are_not_asked(scene, who):
    Club.objects.update(second_factor_from=today_in(scene.club.timezone))
    _browser, done = sign_in(getattr(scene, who).account)
    assert done["Location"] == "/"


def test_the_invented_club_s_accounts_need_none(scene):
    Club.objects.update(second_factor_from=today_in(scene.club.timezone))
    scene.admin.account.is_demo = True
    scene.admin.account.save()
    browser, done = sign_in(scene.admin.account)
    assert done["Location"] == "/"
    assert browser.get("/admin/roster").status_code == 200


def test_setting_up_and_removing_ends_every_other_sign_in(scene, signed_in):
    other, browser = signed_in(scene.coach), signed_in(scene.coach)
    set_up_app(browser)
    assert other.get("/today").status_code == 302
    assert browser.get("/today").status_code == 200
    other = signed_in(scene.coach)
    app = Authenticator.objects.get(type="totp")
    assert browser.post(f"/me/second-factor/{app.pk}/remove").status_code == 302
    assert other.get("/today").status_code == 302
    assert not Authenticator.objects.exists()
    assert SignIn.objects.filter(person=scene.coach).count() == 1


def test_nobody_removes_another_s(scene, signed_in):
    set_up_app(signed_in(scene.coach))
    app = Authenticator.objects.get(type="totp")
    assert signed_in(scene.second_coach).post(f"/me/second-factor/{app.pk}/remove").status_code == 404
    assert Authenticator.objects.filter(pk=app.pk).exists()


@pytest.mark.django_db(transaction=True)
def test_one_code_at_once_in_several_processes_counts_once(live_scene_, monkeypatch):
    """Threads with a connection of their own stand for processes: the row decides, no cache."""
    account = live_scene_.coach.account
    client = Client()
    client.force_login(account)
    secret, _codes = set_up_app(client)
    at = later(monkeypatch, 60)
    barrier, found = threading.Barrier(4), []

    def try_it():
        barrier.wait()
        found.append(check_code(account=account, typed=code_for(secret, at), place="here"))
        connection.close()

    threads = [threading.Thread(target=try_it) for _ in range(4)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(found) == [False, False, False, True]
    assert UsedCode.objects.count() == 2


@pytest.fixture
def live_scene_(transactional_db):
    from tests.people import make_scene

    return make_scene()


def test_a_passkey_that_says_nonsense_opens_nothing(scene, client):
    assert client.get("/sign-in/passkey").json()["publicKey"]["userVerification"] == "required"
    for nonsense in ("", "{}", "[1]", '{"response": 3}', '{"response": {"userHandle": "MQ"}}', '{"id": "a"}'):
        answer = client.post("/sign-in/passkey", {"credential": nonsense})
        assert answer.status_code == 400
        assert "does not open an account here" in answer.content.decode()
    assert client.get("/today").status_code == 302


def test_old_used_codes_go(scene):
    account = scene.coach.account
    from athletes.services.second_factor import STEPS_KEPT, _use

    assert _use(account, 100) and not _use(account, 100)
    assert _use(account, 101 + STEPS_KEPT)
    assert list(UsedCode.objects.values_list("step", flat=True)) == [101 + STEPS_KEPT]
    assert timedelta(seconds=30) * STEPS_KEPT > timedelta(seconds=90)
