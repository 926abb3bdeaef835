"""Signing in and out, and what a stranger sees."""

import pytest
from django.test import Client

from tests.people import PASSWORD


def test_a_stranger_is_led_to_the_sign_in_page(db):
    answer = Client().get("/admin/roster")
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in?next=/admin/roster")


def test_right_words_open_the_first_screen(scene):
    browser = Client()
    answer = browser.post("/sign-in", {"username": scene.guardian.account.username, "password": PASSWORD})
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert browser.get("/")["Location"] == "/guardian/family"


@pytest.mark.parametrize("who", ["known", "unknown"])
def test_wrong_words_are_refused_alike_and_the_name_stays(scene, who):
    username = scene.admin.account.username if who == "known" else "nobody-here"
    answer = Client().post("/sign-in", {"username": username, "password": "not the right words"})
    assert answer.status_code == 200
    assert "User name or password is not right" in answer.content.decode()
    assert f'value="{username}"' in answer.content.decode()


def test_signing_out_ends_the_sign_in(scene, signed_in):
    browser = signed_in(scene.admin)
    assert browser.get("/sign-out").status_code == 405
    assert browser.post("/sign-out")["Location"] == "/sign-in"
    assert browser.get("/admin/roster").status_code == 302


def test_demo_accounts_stay_out_where_the_demo_is_off(scene, settings):
    settings.DEMO = False
    scene.admin.account.is_demo = True
    scene.admin.account.save()
    answer = Client().post("/sign-in", {"username": scene.admin.account.username, "password": PASSWORD})
    assert "User name or password is not right" in answer.content.decode()


def test_answers_to_somebody_signed_in_are_not_kept_by_a_cache(scene, signed_in):
    assert signed_in(scene.admin).get("/admin/roster")["Cache-Control"] == "no-store"
