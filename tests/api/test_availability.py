"""The API of availability: run, modified or not today, said by whoever may see it."""

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client

from athletes.models import Person
from sessions.models import Availability, TrainingSession
from teamtrack.common.clock import today_in
from tests.people import Scene, make_session

SignIn = Callable[[Person], Client]


@pytest.fixture
def coming(scene: Scene) -> TrainingSession:
    return make_session(
        scene.group,
        day=today_in(scene.club.timezone) + timedelta(days=1),
        coaches=(scene.coach,),
        athletes=(scene.athlete, scene.child, scene.adult_athlete),
    )


def address(training_session: TrainingSession, role: str) -> str:
    return f"/api/v1/sessions/{training_session.pk}/availability?as={role}"


def send(client: Client, training_session: TrainingSession, role: str, **body: object) -> tuple[int, dict[str, object]]:
    response = client.post(address(training_session, role), body, content_type="application/json")
    return response.status_code, response.json()


@pytest.mark.parametrize(
    ("who", "role", "about"),
    [
        ("athlete", "athlete", "athlete"),
        ("guardian", "guardian", "child"),
        ("care_guardian", "guardian", "child"),
        ("coach", "coach", "child"),
    ],
)
def test_who_may_see_it_may_say_it(
    scene: Scene, coming: TrainingSession, signed_in: SignIn, who: str, role: str, about: str
) -> None:
    athlete = getattr(scene, about)
    client = signed_in(getattr(scene, who))
    status, said = send(client, coming, role, athlete=str(athlete.pk), state="modified", option="fewer")
    assert (status, said["state"], said["option"], said["said_as"]) == (201, "modified", "fewer", role)
    found = client.get(address(coming, role)).json()
    assert [(item["athlete"], item["state"]) for item in found["items"]] == [(str(athlete.pk), "modified")]


def test_the_latest_word_counts(scene: Scene, coming: TrainingSession, signed_in: SignIn) -> None:
    send(signed_in(scene.guardian), coming, "guardian", athlete=str(scene.child.pk), state="not_today")
    send(signed_in(scene.child), coming, "athlete", athlete=str(scene.child.pk), state="run")
    found = signed_in(scene.coach).get(address(coming, "coach")).json()["items"]
    assert [(item["state"], item["said_as"]) for item in found] == [("run", "athlete")]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "state"),
        ({"state": "not_today"}, "athlete"),
        ({"athlete": "me", "state": "run"}, "athlete"),
        ({"athlete": "CHILD", "state": "ill"}, "state"),
        ({"athlete": "CHILD", "state": "modified"}, "option"),
        ({"athlete": "CHILD", "state": "run", "option": "drills"}, "option"),
        ({"athlete": "CHILD", "state": "modified", "option": "rest"}, "option"),
        ({"athlete": "CHILD", "state": "not_today", "reason": "ill"}, "reason"),
    ],
)
def test_bad_input_names_its_field_and_changes_nothing(
    scene: Scene, coming: TrainingSession, signed_in: SignIn, body: dict[str, object], field: str
) -> None:
    if body.get("athlete") == "CHILD":
        body = body | {"athlete": str(scene.child.pk)}
    status, said = send(signed_in(scene.guardian), coming, "guardian", **body)
    assert (status, said["code"]) == (400, "CHECK_FIELDS")
    assert field in said["fields"]
    assert not Availability.objects.exists()


def test_absent_and_not_yours_are_the_same_404(scene: Scene, coming: TrainingSession, signed_in: SignIn) -> None:
    body = {"athlete": str(scene.child.pk), "state": "not_today"}

    def post(person: Person, role: str, session_id: object, athlete: Person = scene.child) -> tuple[int, bytes]:
        target = f"/api/v1/sessions/{session_id}/availability?as={role}"
        sent = body | {"athlete": str(athlete.pk)}
        response = signed_in(person).post(target, sent, content_type="application/json")
        return response.status_code, response.content

    found = {
        post(scene.guardian, "guardian", uuid4()),
        post(scene.guardian, "guardian", coming.pk, scene.adult_athlete),
        post(scene.athlete, "athlete", coming.pk),
        post(scene.other_coach, "coach", coming.pk),
        post(scene.admin, "admin", coming.pk),
        post(scene.stranger, "coach", coming.pk),
        post(scene.guardian, "coach", coming.pk),
    }
    assert {status for status, _content in found} == {404}
    assert len(found) == 1
    assert not Availability.objects.exists()


def test_a_refusal_at_a_session_that_is_over(scene: Scene, signed_in: SignIn) -> None:
    yesterday = today_in(scene.club.timezone) - timedelta(days=1)
    over = make_session(scene.group, day=yesterday, athletes=(scene.child,))
    status, said = send(signed_in(scene.guardian), over, "guardian", athlete=str(scene.child.pk), state="not_today")
    assert (status, said["code"]) == (400, "TOO_LATE")
