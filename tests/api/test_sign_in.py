"""Signing in over the API, as the driving contract has it."""

import pytest
from django.test import Client

from tests.people import PASSWORD


def fresh_browser() -> tuple[Client, str]:
    browser = Client(enforce_csrf_checks=True)
    assert browser.get("/api/v1/sign-in").status_code in (200, 204)
    return browser, browser.cookies["csrftoken"].value


def sign_in(browser: Client, token: str, **body: object):
    return browser.post("/api/v1/sign-in", body, content_type="application/json", headers={"X-CSRFToken": token})


def test_sign_in_answers_who_it_is(scene):
    browser, token = fresh_browser()
    answer = sign_in(browser, token, username=scene.coach.account.username, password=PASSWORD)
    assert answer.status_code == 200
    assert answer.json() == {"person": str(scene.coach.pk), "roles": ["coach"]}
    assert browser.get("/api/v1/me").json() == answer.json()


def test_unknown_and_wrong_are_the_same_answer(scene):
    browser, token = fresh_browser()
    wrong = sign_in(browser, token, username=scene.coach.account.username, password="no")
    unknown = sign_in(browser, token, username="nobody", password="no")
    assert wrong.status_code == unknown.status_code == 400
    assert wrong.content == unknown.content
    assert wrong.json()["code"] == "SIGN_IN_REFUSED"


def test_without_the_token_nothing_is_tried(scene):
    browser = Client(enforce_csrf_checks=True)
    answer = sign_in(browser, "wrong", username=scene.coach.account.username, password=PASSWORD)
    assert (answer.status_code, answer.json()["code"]) == (403, "CSRF_FAILED")


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"username": "a"}, "password"),
        ({"username": "a", "password": "b", "more": 1}, "more"),
        ({"password": "b"}, "username"),
    ],
)
def test_a_body_that_is_not_right_names_the_field(db, body, field):
    browser, token = fresh_browser()
    answer = sign_in(browser, token, **body)
    assert answer.status_code == 400
    assert field in answer.json()["fields"]
    assert set(answer.json()) == {"code", "detail", "fields"}


def test_sign_out_ends_it(scene, signed_in):
    browser = signed_in(scene.coach)
    assert browser.post("/api/v1/sign-out", content_type="application/json").status_code == 204
    answer = browser.get("/api/v1/me")
    assert (answer.status_code, answer.json()["code"]) == (401, "SIGN_IN_FIRST")


def test_no_such_address_is_like_not_yours(scene, signed_in):
    assert Client().get("/api/v1/nothing-here").status_code == 401
    answer = signed_in(scene.coach).get("/api/v1/nothing-here")
    assert (answer.status_code, answer.json()["code"]) == (404, "NOT_FOUND")
