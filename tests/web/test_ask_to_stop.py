"""An athlete asks to stop a point: the coaches of the group are told once, see it and may put the point aside."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from athletes.models import AccessLogEntry, Person
from sessions.models import Focus, Notice
from teamtrack.common.clock import today_in
from tests.people import Scene

SignedIn = Callable[..., Client]


@pytest.fixture
def focus(scene: Scene) -> Focus:
    since = today_in(scene.club.timezone) - timedelta(days=9)
    return Focus.objects.create(
        club=scene.club, athlete=scene.athlete, feature=scene.feature, since=since, set_by=scene.coach
    )


def ask(client: Client, focus: Focus, word: str = "yes") -> int:
    return client.post("/athlete/running/stop", {"feature": focus.feature_id, "ask": word}).status_code


def told() -> set[Person]:
    return {one.to for one in Notice.objects.filter(kind="stop_asked")}


def test_asked_twice_told_once_and_the_coach_puts_it_aside(scene: Scene, signed_in: SignedIn, focus: Focus) -> None:
    athlete, coach = signed_in(scene.athlete), signed_in(scene.coach)
    assert [ask(athlete, focus), ask(athlete, focus)] == [302, 302]
    assert told() == {scene.coach, scene.second_coach}
    assert "Noela: would like to stop a point" in coach.get("/today").content.decode()
    page = f"/coach/athletes/{scene.athlete.pk}"
    assert "to stop this." in coach.get(page).content.decode()
    assert coach.post(f"{page}/focus", {"feature": focus.feature_id, "in_hand": "no"}).status_code == 302
    assert "to stop this." not in coach.get(page).content.decode()
    assert ask(athlete, focus) == 400
    assert [(one.verb, one.code) for one in AccessLogEntry.objects.filter(kind="focus").order_by("seq")][:1] == [
        ("ask", "OWN_DATA")
    ]


def test_taken_back_it_is_gone(scene: Scene, signed_in: SignedIn, focus: Focus) -> None:
    athlete = signed_in(scene.athlete)
    assert ask(athlete, focus) == 302
    assert "You asked to stop this" in athlete.get("/athlete/running").content.decode()
    assert ask(athlete, focus, "no") == 302
    assert told() == set()
    assert "You asked to stop this" not in athlete.get("/athlete/running").content.decode()


def test_nobody_asks_for_somebody_else(scene: Scene, signed_in: SignedIn, focus: Focus) -> None:
    assert ask(signed_in(scene.adult_athlete), focus) == 400
    assert ask(signed_in(scene.coach), focus) == 404
    assert told() == set()
