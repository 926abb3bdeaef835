"""What does not suit: noted on the Athlete page in two taps, then no longer offered; told to the athlete."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from athletes.models import AccessLogEntry, Restriction
from sessions.models import Feature, Focus, Unsuited
from teamtrack.common.clock import today_in
from tests.entries import make_entry, see, tell
from tests.people import Scene, make_session

SignedIn = Callable[..., Client]


def note(client: Client, scene: Scene, feature: Feature | None = None, **given: str) -> int:
    fields = {"feature": (feature or scene.feature).pk, "suits": "no"} | given
    return client.post(f"/coach/athletes/{scene.athlete.pk}/suits", fields).status_code


def earlier(scene: Scene) -> None:
    """Two wordings at a session two days ago, the later one best known."""
    day = today_in(scene.club.timezone) - timedelta(days=2)
    before = make_session(scene.group, day=day, athletes=(scene.athlete, scene.child))
    tell(before, scene.athlete, scene.coach, 1, "tall as a mast")
    see(before, scene.athlete, scene.coach, 2, "held")
    tell(before, scene.athlete, scene.coach, 3, "Up, up")
    see(before, scene.athlete, scene.coach, 4, "held")


def beside_the_straight(client: Client, scene: Scene) -> tuple[dict, list[str]]:
    found = client.get(f"/api/v1/sessions/{scene.training_session.pk}").json()["trackside"]
    athlete = next(one for one in found["athletes"] if one["person"] == str(scene.athlete.pk))
    return athlete, found["features"][0]["phrases"]


def text_of(client: Client, address: str) -> str:
    return client.get(address).content.decode()


def test_words_that_do_not_suit_are_no_longer_offered(scene: Scene, signed_in: SignedIn) -> None:
    earlier(scene)
    client = signed_in(scene.coach)
    athlete, phrases = beside_the_straight(client, scene)
    assert (athlete["last_words"]["tall_hips"]["words"], phrases) == ("Up, up", ["Up, up", "tall as a mast"])
    assert note(client, scene, words="up,  up") == 302
    assert note(client, scene, words="Up, up") == 302
    assert [(row.words, row.set_by) for row in Unsuited.objects.all()] == [("Up, up", scene.coach)]
    athlete, phrases = beside_the_straight(client, scene)
    assert athlete["does_not_suit"] == {"tall_hips": ["Up, up"]}
    assert (athlete["last_words"]["tall_hips"]["words"], phrases) == ("tall as a mast", ["tall as a mast"])
    page = text_of(client, f"/coach/athletes/{scene.athlete.pk}")
    assert "“Up, up”: does not suit" in page
    assert "Take back" in page
    handed = text_of(client, f"/coach/groups/{scene.group.pk}/hand-over")
    assert handed.index("tall as a mast") < handed.index("Up, up")
    assert note(client, scene, words="Up, up", suits="yes") == 302
    assert beside_the_straight(client, scene)[0]["last_words"]["tall_hips"]["words"] == "Up, up"
    acts = AccessLogEntry.objects.filter(kind="unsuited").order_by("seq")
    assert [(row.verb, row.code) for row in acts] == [("set", "MEMBERSHIP_BASIS")] * 2 + [
        ("removed", "MEMBERSHIP_BASIS")
    ]


def test_a_point_is_put_aside_and_undo_takes_it_in_hand_again(scene: Scene, signed_in: SignedIn) -> None:
    today, client = today_in(scene.club.timezone), signed_in(scene.coach)
    Focus.objects.create(
        club=scene.club,
        athlete=scene.athlete,
        feature=scene.feature,
        since=today - timedelta(days=9),
        set_by=scene.coach,
    )
    assert note(client, scene) == 302
    in_hand = Focus.objects.exclude(until__lt=today)
    assert not in_hand.exists()
    assert beside_the_straight(client, scene)[0]["features"] == []
    focus = f"/coach/athletes/{scene.athlete.pk}/focus"
    assert client.post(focus, {"feature": scene.feature.pk, "in_hand": "yes"}).status_code == 400
    assert note(client, scene, suits="yes", in_hand="yes") == 302
    assert in_hand.count() == 1
    assert beside_the_straight(client, scene)[0]["features"] == ["tall_hips"]


def test_the_athlete_reads_it_but_not_before_the_own_view(scene: Scene, signed_in: SignedIn) -> None:
    tell(scene.training_session, scene.athlete, scene.coach, 1, "Up, up")
    assert note(signed_in(scene.coach), scene, words="Up, up") == 302
    athlete = signed_in(scene.athlete)
    assert "Up, up" not in text_of(athlete, "/athlete/running")
    make_entry(scene.training_session, "felt", scene.athlete, scene.athlete, rpe=4)
    page = text_of(athlete, "/athlete/running")
    assert page.index("Not for you") < page.index("Up, up")
    assert "Last words" not in page


def test_words_that_nobody_said_and_closed_history_are_refused(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    assert note(client, scene, words="never said") == 400
    today = today_in(scene.club.timezone)
    Restriction.objects.create(club=scene.club, athlete=scene.athlete, purpose="feedback", first_day=today)
    assert note(client, scene) == 400
    assert not Unsuited.objects.exists()


@pytest.mark.parametrize("who", ["stranger", "other_coach", "head_coach", "athlete"])
def test_nobody_else_notes_it(scene: Scene, signed_in: SignedIn, who: str) -> None:
    assert note(signed_in(getattr(scene, who)), scene) == 404
    assert not Unsuited.objects.exists()
