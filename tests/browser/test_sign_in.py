"""Signing in in a real browser: a passkey made and used, and a phone that is not one's own wiped by itself."""

import pytest
from allauth.mfa.models import Authenticator
from playwright.sync_api import expect

from athletes.models import SignIn
from athletes.services import sign_ins
from tests.browser.conftest import DESK, PHONE, once
from tests.people import PASSWORD

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

AUTHENTICATOR = {
    "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
    "isUserVerified": True, "automaticPresenceSimulation": True,
}  # fmt: skip

KEPT = """async () => [(await caches.keys()).filter((one) => one.startsWith("pages-")),
                       (await indexedDB.databases()).map((one) => one.name)]"""


def with_authenticator(page):
    """The page's browser has an authenticator that always says yes; answers how to change it."""
    session = page.context.new_cdp_session(page)
    session.send("WebAuthn.enable")
    found = session.send("WebAuthn.addVirtualAuthenticator", {"options": AUTHENTICATOR})
    return session, found["authenticatorId"]


def test_a_passkey_is_made_and_signs_in_alone_and_as_second_factor(live_scene, open_page):
    account = live_scene.coach.account
    page = open_page(live_scene.coach, "/me/second-factor/passkey", DESK)
    session, authenticator = with_authenticator(page)
    page.get_by_label("What do you call it?").fill("My phone")
    page.get_by_role("button", name="Make the passkey").click()
    expect(page.get_by_role("heading", name="Your recovery codes")).to_be_visible()
    assert page.locator(".codes li").count() == 10
    page.get_by_role("link", name="I have kept them").click()
    expect(page.get_by_text("Passkey: My phone")).to_be_visible()

    page.context.clear_cookies()
    page.goto("/sign-in?next=%2Fcoach%2Fathletes")
    page.get_by_role("button", name="Sign in with a passkey").click()
    page.wait_for_url("**/coach/athletes")
    assert SignIn.objects.get(method="passkey").person == live_scene.coach
    assert Authenticator.objects.get(type="webauthn").last_used_at is not None

    page.context.clear_cookies()
    page.goto("/sign-in")
    page.get_by_label("User name").fill(account.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_role("heading", name="And your second factor")).to_be_visible()
    session.send("WebAuthn.setUserVerified", {"authenticatorId": authenticator, "isUserVerified": False})
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.locator("#live, .notice").filter(has_text="passkey").first).to_be_visible()
    session.send("WebAuthn.setUserVerified", {"authenticatorId": authenticator, "isUserVerified": True})
    page.wait_for_timeout(500)  # a second press within 0.4 s is a double tap
    page.get_by_role("button", name="Use a passkey").click()
    page.wait_for_url("**/today")


def test_a_phone_that_is_not_one_s_own_is_wiped_by_itself(live_scene, open_page, monkeypatch):
    monkeypatch.setattr(sign_ins, "SHARED", sign_ins.Times(3, 3600))
    monkeypatch.setattr("athletes.core.sign_in_times.SHARED", sign_ins.Times(3, 3600))
    page = open_page(None, "/sign-in", PHONE)
    page.get_by_label("User name").fill(live_scene.athlete.account.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_label("This is not my phone").check()
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_text("is signed in on a phone that is not their own")).to_be_visible()
    page.wait_for_url("**/sign-in**")
    # The next page wipes what the last one was still writing.
    assert once(lambda: page.evaluate(KEPT) == [[], []], page.wait_for_timeout, 100)
    assert not SignIn.objects.exists()
    page.go_back()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
