"""The checks of the whole request, in their order: nothing is stored where one of them fails."""

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import OperationalError, connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import override_settings

from athletes.models import Person
from sessions.models import Entry, RosterLeaver, SessionCoach
from teamtrack.common.clock import today_in
from tests.api.entry_posts import Phone, away_after, codes, entry, new_id
from tests.people import Scene, make_athlete, make_session

pytestmark = pytest.mark.django_db
SignedIn = Callable[..., Client]
MIB = 1024 * 1024
QUESTIONS_OF_A_PAGE = 10


def error(response: HttpResponse) -> tuple[int, str]:
    """The status and code of an error of the one shape, which is never kept by a cache."""
    content = response.json()
    assert content.keys() == {"code", "detail", "fields"}
    assert content["detail"]
    assert response["Cache-Control"] == "no-store"
    return response.status_code, content["code"]


@pytest.fixture
def phone(scene: Scene, signed_in: SignedIn) -> Phone:
    return Phone(signed_in(scene.coach), scene.coach, scene.training_session)


def body_of(phone: Phone, *entries: Any, **more: Any) -> dict[str, Any]:
    return {"as": str(phone.person.pk), "entries": list(entries), **more}


def test_sign_in_comes_first_whatever_the_rest(scene: Scene) -> None:
    stranger = Phone(Client(enforce_csrf_checks=True), scene.coach, scene.training_session)
    assert error(stranger.send(b"\xff")) == (401, "SIGN_IN_FIRST")
    assert error(stranger.client.get(stranger.address)) == (401, "SIGN_IN_FIRST")
    assert error(stranger.client.get("/api/v1/sessions/nowhere/entries")) == (401, "SIGN_IN_FIRST")
    assert error(stranger.client.get(stranger.address + "/counting?x=1")) == (401, "SIGN_IN_FIRST")


def test_the_proof_of_origin_comes_second(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach, enforce_csrf_checks=True)
    phone = Phone(client, scene.coach, scene.training_session)
    sent = body_of(phone, entry("run", scene.athlete, scene.training_session))
    assert error(phone.send(sent)) == (403, "CSRF_FAILED")
    assert error(client.post("/api/v1/sessions/nowhere/entries", b"", content_type="text/plain")) == (
        403,
        "CSRF_FAILED",
    )
    client.get("/api/v1/sign-in")
    token = client.cookies["csrftoken"].value
    assert error(phone.send(sent, headers={"X-CSRFToken": token[::-1]})) == (403, "CSRF_FAILED")
    assert phone.send(sent, headers={"X-CSRFToken": token}).status_code == 200
    form = client.post(phone.address, {"csrfmiddlewaretoken": token})
    assert error(form) == (403, "CSRF_FAILED")
    big = client.post(phone.address, b"x" * 3 * MIB, content_type="application/x-www-form-urlencoded")
    assert error(big) == (403, "CSRF_FAILED")


def test_absent_and_not_yours_look_the_same_whatever_the_body(scene: Scene, signed_in: SignedIn) -> None:
    theirs = make_session(scene.other_group, coaches=(scene.other_coach,))
    outsiders = (
        scene.other_coach,
        scene.head_coach,
        scene.guardian,
        scene.admin,
        scene.welfare,
        scene.stranger,
        scene.stranger_athlete,
    )
    seen = set()
    for person in outsiders:
        client = signed_in(person)
        for address in (str(scene.training_session.pk), new_id(), "nowhere", str(scene.training_session.pk).upper()):
            path = f"/api/v1/sessions/{address}/entries"
            for response in (
                client.get(path),
                client.get(path + "?after=x"),
                client.get(path + "/counting"),
                client.post(path, b"\xff", content_type="text/plain"),
                client.post(path, {"as": str(person.pk), "entries": []}, content_type="application/json"),
            ):
                assert error(response) == (404, "NOT_FOUND")
                seen.add(response.content)
    assert len(seen) == 1
    coach = signed_in(scene.coach)
    assert error(coach.get(f"/api/v1/sessions/{theirs.pk}/entries")) == (404, "NOT_FOUND")


@pytest.mark.parametrize("content_type", ["text/plain", "", "application/x-www-form-urlencoded", "application/jsonp"])
def test_only_json_is_taken(phone: Phone, content_type: str) -> None:
    big = b" " * (3 * MIB)
    for sent in (json.dumps(body_of(phone)).encode(), b"\xff", big):
        response = phone.client.generic("POST", phone.address, sent, content_type)
        assert error(response) == (415, "NOT_JSON")
    multipart = phone.client.post(phone.address, {"as": "x"})
    assert error(multipart) == (415, "NOT_JSON")


@pytest.mark.parametrize("content_type", ["application/json", "Application/JSON; charset=utf-8"])
def test_json_by_its_name(phone: Phone, content_type: str) -> None:
    assert phone.client.generic("POST", phone.address, json.dumps(body_of(phone)), content_type).status_code == 200


def test_bytes_and_number_are_limited(scene: Scene, phone: Phone) -> None:
    empty = json.dumps(body_of(phone)).encode()
    assert phone.send(empty.ljust(2 * MIB)).status_code == 200
    assert error(phone.send(empty.ljust(2 * MIB + 1))) == (413, "TOO_LARGE")
    assert error(phone.send(b"\xff" * (9 * MIB))) == (413, "TOO_LARGE")
    sent = entry("run", scene.athlete, scene.training_session)
    assert error(phone.send(body_of(phone, *[sent] * 501))) == (413, "TOO_LARGE")
    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    "make",
    [
        lambda body: b" ",
        lambda body: b"[]",
        lambda body: body[:-1],
        lambda body: body.replace(b'"entries"', b'"other": 1, "entries"'),
        lambda body: body.replace(b"8.125", b"NaN"),
        lambda body: body.replace(b"phone-0001", b"\xff"),
        lambda body: body.replace(b"8.125", b"[" * 5000 + b"]" * 5000),
        lambda body: body.decode().encode("utf-16"),
    ],
)
def test_what_cannot_be_read_stores_nothing(scene: Scene, phone: Phone, make: Callable[[bytes], bytes]) -> None:
    sent = json.dumps(body_of(phone, entry("run", scene.athlete, scene.training_session))).encode()
    assert error(phone.send(make(sent))) == (400, "MALFORMED")
    assert not Entry.objects.exists()


def test_nobody_writes_in_another_name(scene: Scene, phone: Phone) -> None:
    sent = entry("run", scene.athlete, scene.training_session)
    for name in (str(scene.second_coach.pk), str(phone.person.pk).upper(), "", "me"):
        assert error(phone.send({"as": name, "entries": [sent]})) == (409, "OTHER_PERSON")
    assert not Entry.objects.exists()


@pytest.mark.parametrize("method", ["put", "patch", "delete"])
def test_other_methods(phone: Phone, method: str) -> None:
    assert error(getattr(phone.client, method)(phone.address)) == (405, "METHOD_NOT_ALLOWED")


def test_whatever_the_reader_accepts_the_answer_is_json(phone: Phone) -> None:
    response = phone.client.get(phone.address, headers={"Accept": "text/html"})
    assert (response.status_code, response["Content-Type"]) == (200, "application/json")
    assert response["Cache-Control"] == "no-store"


@pytest.mark.parametrize("key", ["\ud800", "\x00", "k" * 100_000])
def test_a_key_of_any_sort_is_named(scene: Scene, phone: Phone, key: str) -> None:
    [answer] = phone.post(entry("run", scene.athlete, scene.training_session, **{key: 1}))
    assert (answer["code"], answer["field"]) == ("UNKNOWN_KEY", key)


@pytest.mark.parametrize("value", ["\ud800", "\x00", "x" * 100_000, "00000000-0000-0000-0000-000000000000"])
def test_an_athlete_or_feature_of_any_sort_is_unknown(scene: Scene, phone: Phone, value: str) -> None:
    answers = phone.post(
        entry("cue", scene.athlete, scene.training_session) | {"athlete": value},
        entry("cue", scene.athlete, scene.training_session, feature=value),
    )
    assert codes(answers) == ["UNKNOWN_ATHLETE", "UNKNOWN_FEATURE"]


def taken_off(scene: Scene, *, days_ago: int) -> None:
    """The coach was taken off a session that was so many days ago."""
    day = today_in(scene.club.timezone) - timedelta(days=days_ago)
    old = make_session(scene.group, day=day, coaches=(scene.coach,), athletes=(scene.athlete,))
    SessionCoach.objects.filter(training_session=old).update(taken_off_at=old.starts_at)
    scene.training_session = old


@pytest.mark.parametrize("days_ago", [0, 14])
def test_who_was_taken_off_may_still_send_and_not_read(scene: Scene, signed_in: SignedIn, days_ago: int) -> None:
    taken_off(scene, days_ago=days_ago)
    phone = Phone(signed_in(scene.coach), scene.coach, scene.training_session)
    assert codes(phone.post(entry("run", scene.athlete, scene.training_session))) == ["accepted"]
    assert error(phone.client.get(phone.address)) == (404, "NOT_FOUND")
    assert error(phone.client.get(phone.address + "/counting")) == (404, "NOT_FOUND")


@pytest.mark.parametrize(("days_ago", "status"), [(0, 200), (14, 200), (15, 404)])
def test_an_athlete_who_was_taken_off_may_still_send_about_oneself_and_not_read(
    scene: Scene, signed_in: SignedIn, days_ago: int, status: int
) -> None:
    day = today_in(scene.club.timezone) - timedelta(days=days_ago)
    old = make_session(scene.group, day=day, coaches=(scene.coach,), athletes=(scene.child,))
    RosterLeaver.objects.create(
        club=scene.club, training_session=old, athlete=scene.athlete, taken_off_at=old.starts_at
    )
    phone = Phone(signed_in(scene.athlete), scene.athlete, old)
    mine, others = entry("day", scene.athlete, old), entry("day", scene.child, old)
    response = phone.send({"as": str(scene.athlete.pk), "entries": [mine, others]})
    assert response.status_code == status
    if status == 200:
        assert codes(response.json()["answers"]) == ["accepted", "NOT_FOR_YOU"]
        assert codes(phone.post(mine)) == ["known"]
    assert error(phone.client.get(phone.address)) == (404, "NOT_FOUND")
    assert error(phone.client.get(phone.address + "/counting")) == (404, "NOT_FOUND")
    assert phone.client.get(f"/athlete/log/{old.pk}").status_code == 404


def test_after_fourteen_days_nothing_is_there(scene: Scene, signed_in: SignedIn) -> None:
    taken_off(scene, days_ago=15)
    phone = Phone(signed_in(scene.coach), scene.coach, scene.training_session)
    assert error(phone.send(body_of(phone))) == (404, "NOT_FOUND")


def test_a_coach_still_on_the_list_sends_weeks_later(scene: Scene, signed_in: SignedIn) -> None:
    day = today_in(scene.club.timezone) - timedelta(days=40)
    old = make_session(scene.group, day=day, coaches=(scene.coach,), athletes=(scene.athlete,))
    phone = Phone(signed_in(scene.coach), scene.coach, old)
    sent = entry("run", scene.athlete, old)
    assert codes(phone.post(sent)) == ["accepted"]
    assert [one["id"] for one in phone.items()] == [sent["id"]]


@pytest.mark.parametrize("days_ago", [0, 1, 14, 15])
def test_a_stand_in_reads_until_midnight_and_the_phone_may_send_for_14_days(
    scene: Scene, signed_in: SignedIn, days_ago: int
) -> None:
    day = today_in(scene.club.timezone) - timedelta(days=days_ago)
    covered = make_session(scene.group, day=day, coaches=(scene.other_coach,), athletes=(scene.athlete,))
    phone = Phone(signed_in(scene.other_coach), scene.other_coach, covered)
    pages = (
        phone.address, phone.address + "/counting", f"/api/v1/sessions/{covered.pk}",
        f"/coach/sessions/{covered.pk}", f"/coach/sessions/{covered.pk}/summary",
    )  # fmt: skip
    if days_ago == 0:
        assert codes(phone.post(entry("run", scene.athlete, covered))) == ["accepted"]
        assert len(phone.items()) == 1
        assert {phone.client.get(page).status_code for page in pages} == {200}
        return
    for page in pages:
        ended, absent = (phone.client.get(one) for one in (page, page.replace(str(covered.pk), str(uuid4()))))
        assert (ended.status_code, absent.status_code) == (404, 404), page
        assert ended.content == absent.content
    response = phone.send(body_of(phone, entry("run", scene.athlete, covered)))
    assert response.status_code == (200 if days_ago <= 14 else 404)
    if days_ago <= 14:
        assert codes(response.json()["answers"]) == ["accepted"]


def test_the_same_id_in_another_session_never_crosses(scene: Scene, signed_in: SignedIn, phone: Phone) -> None:
    sent = entry("run", scene.athlete, scene.training_session)
    assert codes(phone.post(sent)) == ["accepted"]
    other = make_session(scene.group, coaches=(scene.coach,), athletes=(scene.athlete,))
    there = Phone(phone.client, scene.coach, other)
    assert codes(there.post(sent, sent | {"session": str(other.pk)})) == ["WRONG_SESSION", "conflict"]
    assert there.items() == []
    assert [one["id"] for one in phone.items()] == [sent["id"]]


def test_the_answer_is_busy_while_the_database_is_away(phone: Phone) -> None:
    def away(execute: Any, *args: Any) -> Any:
        raise OperationalError("database is locked")

    with connection.execute_wrapper(away):
        for response in (phone.send(body_of(phone)), phone.client.get(phone.address)):
            assert error(response) == (503, "BUSY")
            assert int(response["Retry-After"]) >= 1


def test_the_database_may_go_away_at_any_statement(scene: Scene, phone: Phone) -> None:
    """It is busy, never a fault, nothing is kept, and the same is taken afterwards."""
    sent = body_of(phone, entry("cue", scene.athlete, scene.training_session))
    number = 0
    while True:
        with connection.execute_wrapper(away_after(number)):
            response = phone.send(sent)
        if response.status_code == 200:
            break
        assert error(response) == (503, "BUSY")
        assert not Entry.objects.exists()
        number += 1
    assert number > 10
    assert codes(response.json()["answers"]) == ["accepted"]


def test_what_is_read_is_never_kept_by_a_cache(scene: Scene, phone: Phone) -> None:
    phone.post(entry("run", scene.athlete, scene.training_session))
    for address in (phone.address, phone.address + "/counting"):
        assert phone.client.get(address)["Cache-Control"] == "no-store"
    assert phone.send(body_of(phone))["Cache-Control"] == "no-store"


def test_what_to_drop_is_always_told_whole_and_next_stands_where_nothing_is_new(scene: Scene, phone: Phone) -> None:
    phone.post(*(entry("run", scene.athlete, scene.training_session) for _ in range(3)))
    whole = phone.get()
    assert len(whole["drop"]) == 3
    for after, limit, more, following in (
        (0, 1, True, 1),
        (1, 2, False, 3),
        (3, 500, False, 3),
        (2**53, 1, False, 2**53),
    ):
        page = phone.get(after=after, limit=limit)
        assert (page["drop"], page["more"], page["next"]) == (whole["drop"], more, following)


def test_numbers_that_are_equal_are_the_same_content(scene: Scene, phone: Phone) -> None:
    sent = entry("run", scene.athlete, scene.training_session, stride=1, time_s=1, steps=31)
    assert codes(phone.post(sent)) == ["accepted"]
    assert codes(phone.post(sent | {"stride": 1.0, "time_s": 1.0, "steps": 31.0})) == ["known"]
    assert codes(phone.post(sent | {"stride": True}, sent | {"time_s": 1.001})) == ["BAD_VALUE", "conflict"]


@pytest.mark.parametrize("number", [0, 3, 30])
def test_a_page_and_what_counts_take_the_same_questions_for_any_number(
    scene: Scene, phone: Phone, number: int, django_assert_num_queries: Any
) -> None:
    for place in range(number):
        runner = make_athlete(scene.club, f"Runner{place}", scene.group, account=False)
        scene.training_session.session_athletes.create(club=scene.club, athlete=runner)
        phone.post(entry("cue", runner, scene.training_session))
    with django_assert_num_queries(QUESTIONS_OF_A_PAGE):
        assert len(phone.items()) == number
    with django_assert_num_queries(QUESTIONS_OF_A_PAGE):
        assert len(phone.counting()["ids"]) == number


@override_settings(DEBUG=False)
def test_the_addresses_are_in_the_openapi_document(client: Client) -> None:
    paths = client.get("/api/v1/schema").json()["paths"]
    assert set(paths["/api/v1/sessions/{session_id}/entries"]) >= {"get", "post"}
    assert "get" in paths["/api/v1/sessions/{session_id}/entries/counting"]


def test_people_of_the_scene_have_no_other_way_in(scene: Scene, signed_in: SignedIn) -> None:
    """Every address of entries asks for the part in the session: a person on no list gets nothing by any method."""
    person: Person = scene.head_coach
    client = signed_in(person)
    for suffix in ("", "/counting"):
        for method in ("get", "post", "put", "patch", "delete"):
            path = f"/api/v1/sessions/{scene.training_session.pk}/entries{suffix}"
            assert getattr(client, method)(path).status_code in (404, 405)
