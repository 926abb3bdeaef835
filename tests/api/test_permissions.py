"""The API of permissions: the same questions, answers and stops as the page."""

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.test import Client

from athletes.access import answers_for
from athletes.models import PermissionEvent, Person
from athletes.viewer import viewer_for
from tests.people import Scene, make_guardian

SignIn = Callable[[Person], Client]


def address(athlete: Person, role: str = "guardian") -> str:
    return f"/api/v1/athletes/{athlete.pk}/permissions?as={role}"


def send(client: Client, athlete: Person, role: str = "guardian", **body: object) -> tuple[int, dict[str, object]]:
    response = client.post(address(athlete, role), body, content_type="application/json")
    return response.status_code, response.json()


def test_questions_stand_in_a_fixed_order_with_the_own_answer(scene: Scene, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    send(client, scene.child, purpose="health", answer="no")
    found = client.get(address(scene.child)).json()
    assert [(item["purpose"], item["own"] and item["own"]["answer"]) for item in found["items"]] == [
        ("health", "no"),
        ("share", None),
        ("feed", None),
    ]
    assert found["next"] is None


def test_a_withdrawal_of_health_acts_on_the_coachs_next_request(scene: Scene, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)

    def may_read() -> bool:
        viewer = viewer_for(scene.coach, "coach")
        return answers_for(viewer=viewer, athletes=[scene.child], purposes=["health"]).may(scene.child.pk, "health")

    assert send(client, scene.child, purpose="health", answer="yes")[0] == 201
    assert may_read()
    assert send(client, scene.child, purpose="health", answer="withdrawn")[0] == 201
    assert not may_read()


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({}, "CHECK_FIELDS"),
        ({"purpose": "health"}, "CHECK_FIELDS"),
        ({"purpose": "health", "answer": "perhaps"}, "CHECK_FIELDS"),
        ({"purpose": "health", "answer": "yes", "evidence": 2}, "CHECK_FIELDS"),
        ({"purpose": "health", "answer": "yes", "recipients": "me"}, "CHECK_FIELDS"),
        ({"purpose": "share", "answer": "yes", "recipients": []}, "CHECK_FIELDS"),
        ({"purpose": "ranking", "answer": "yes"}, "NOT_ASKED"),
        ({"purpose": "feedback", "answer": "yes"}, "NOT_ASKED"),
        ({"purpose": "record", "answer": "withdrawn"}, "OBJECTION_ROUTE"),
        ({"purpose": "health", "answer": ["yes"]}, "CHECK_FIELDS"),
    ],
)
def test_bad_input_is_refused_with_a_code(scene: Scene, signed_in: SignIn, body: dict[str, object], code: str) -> None:
    status, said = send(signed_in(scene.guardian), scene.child, **body)
    assert (status, said["code"]) == (400, code)
    assert set(said) == {"code", "detail", "fields"}
    assert not PermissionEvent.objects.exists()


@pytest.mark.parametrize(
    ("content", "kind", "status"), [(b"{", "application/json", 400), (b"purpose=health", "text/plain", 415)]
)
def test_what_is_no_json_is_refused(scene: Scene, signed_in: SignIn, content: bytes, kind: str, status: int) -> None:
    response = signed_in(scene.guardian).post(address(scene.child), content, content_type=kind)
    assert response.status_code == status


@pytest.mark.parametrize("answer", ["yes", "no"])
def test_authority_decides_who_may_answer(scene: Scene, signed_in: SignIn, answer: str) -> None:
    status, said = send(signed_in(scene.care_guardian), scene.child, purpose="health", answer=answer)
    assert (status, said["code"]) == (400, "GUARDIAN_NO_AUTHORITY")
    assert not PermissionEvent.objects.exists()


def test_a_carers_stop_is_refused_and_the_wish_kept(scene: Scene, signed_in: SignIn) -> None:
    status, said = send(signed_in(scene.care_guardian), scene.child, purpose="health", answer="withdrawn")
    assert (status, said["code"]) == (400, "GUARDIAN_NO_AUTHORITY")
    assert [(event.giver, event.answer) for event in PermissionEvent.objects.all()] == [
        (scene.care_guardian, "withdrawn")
    ]


def test_absent_and_not_yours_are_the_same_404(scene: Scene, signed_in: SignIn) -> None:
    unverified = make_guardian(scene.child, "Uwe", authority="unverified")
    found = [
        signed_in(scene.guardian).get(f"/api/v1/athletes/{uuid4()}/permissions?as=guardian"),
        signed_in(scene.guardian).get(address(scene.adult_athlete)),
        signed_in(scene.guardian).get(address(scene.stranger_athlete)),
        signed_in(unverified).get(address(scene.child)),
        signed_in(scene.coach).get(address(scene.child, "coach")),
        signed_in(scene.guardian).get(address(scene.child, "athlete")),
        signed_in(scene.guardian).get(address(scene.child, "admin")),
    ]
    assert {(response.status_code, response.content) for response in found} == {(404, found[0].content)}


def test_nobody_signed_in_is_asked_to_sign_in(scene: Scene, client: Client) -> None:
    assert client.get(address(scene.child)).status_code == 401
