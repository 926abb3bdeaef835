"""The session's own page and its summary: who reaches them, and what the summary takes along."""

from collections.abc import Callable

import pytest
from django.test import Client
from pytest_django.fixtures import DjangoAssertNumQueries

from athletes.models import Person, Restriction
from sessions.models import Focus, SessionAthlete, SessionNote
from teamtrack.common.clock import today_in
from tests.entries import make_entry, see
from tests.people import Scene, make_athlete, make_coach, make_feature

SignedIn = Callable[..., Client]
PAGES = ["", "/summary"]


def summary(client: Client, scene: Scene) -> str:
    response = client.get(f"/coach/sessions/{scene.training_session.pk}/summary")
    assert response.status_code == 200
    return response.content.decode()


def be_here(scene: Scene, *athletes: Person, state: str = "came") -> None:
    for athlete in athletes:
        make_entry(scene.training_session, "presence", athlete, scene.coach, state=state)


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("who", ["coach", "second_coach", "helper"])
def test_those_on_the_list_reach_it(scene: Scene, signed_in: SignedIn, who: str, page: str) -> None:
    response = signed_in(getattr(scene, who)).get(f"/coach/sessions/{scene.training_session.pk}{page}")
    assert response.status_code == 200
    assert "<h1" in response.content.decode()
    assert "Sprint technique" in response.content.decode()


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("who", ["head_coach", "other_coach", "athlete", "guardian", "admin", "stranger"])
def test_absent_and_not_yours_are_identical(scene: Scene, signed_in: SignedIn, who: str, page: str) -> None:
    client = signed_in(getattr(scene, who))
    not_mine = client.get(f"/coach/sessions/{scene.training_session.pk}{page}")
    absent = client.get(f"/coach/sessions/{scene.club.pk}{page}")
    assert (not_mine.status_code, not_mine.content) == (404, absent.content)
    assert dict(not_mine.headers) == dict(absent.headers)


def test_a_coach_of_the_group_who_is_not_on_the_list_does_not(scene: Scene, signed_in: SignedIn) -> None:
    third = make_coach(scene.club, "Thea", scene.group)
    assert signed_in(third).get(f"/coach/sessions/{scene.training_session.pk}").status_code == 404


def test_the_page_keeps_to_the_content_policy(scene: Scene, signed_in: SignedIn) -> None:
    """No inline script or style, and names of athletes come by the bundle alone."""
    response = signed_in(scene.coach).get(f"/coach/sessions/{scene.training_session.pk}")
    text = response.content.decode()
    assert "style=" not in text
    assert "<style" not in text
    assert "Noela" not in text
    assert "unsafe" not in response.headers["Content-Security-Policy"]


def test_nothing_recorded(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    assert "Nothing recorded." in summary(client, scene)
    be_here(scene, scene.adult_athlete)
    assert "Nothing recorded; roll kept." in summary(client, scene)


def test_minors_here_are_to_be_collected(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    be_here(scene, scene.athlete, scene.child, scene.adult_athlete)
    assert "2 minors still to be collected" in summary(client, scene)
    be_here(scene, scene.athlete, state="collected")
    be_here(scene, scene.child, state="left")
    text = summary(client, scene)
    assert "to be collected" not in text


def test_what_held_who_stopped_who_was_not_seen(scene: Scene, signed_in: SignedIn) -> None:
    be_here(scene, scene.athlete, scene.child, scene.adult_athlete)
    see(scene.training_session, scene.athlete, scene.coach, 1, "partly")
    see(scene.training_session, scene.athlete, scene.coach, 2, "held")
    see(scene.training_session, scene.child, scene.coach, 1, "held")
    see(scene.training_session, scene.child, scene.coach, 2, "not_yet")
    make_entry(scene.training_session, "stop", scene.child, scene.coach)
    text = summary(signed_in(scene.coach), scene)
    stopped, not_seen, held = (text.index(word) for word in ("Stopped for today", "Not yet seen", "What held"))
    assert stopped < text.index("Ivo", stopped) < not_seen < text.index("Tam", not_seen) < held
    assert "Noela" in text[held:]
    assert "Ivo" not in text[held:]


def test_a_withdrawn_stop_does_not_count(scene: Scene, signed_in: SignedIn) -> None:
    stop = make_entry(scene.training_session, "stop", scene.child, scene.coach)
    make_entry(scene.training_session, "stop", scene.child, scene.coach, replaces=stop, withdrawn=True)
    assert "Stopped" not in summary(signed_in(scene.coach), scene)


def test_what_may_not_be_used_is_not_taken_along(scene: Scene, signed_in: SignedIn) -> None:
    see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    Restriction.objects.create(
        club=scene.club, athlete=scene.athlete, purpose="feedback", first_day=today_in(scene.club.timezone)
    )
    assert "Noela" not in summary(signed_in(scene.coach), scene)


@pytest.mark.parametrize("rows", [0, 3, 30])
def test_query_counts_do_not_grow(
    scene: Scene, signed_in: SignedIn, rows: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for number in range(rows):
        athlete = make_athlete(scene.club, f"Runner{number}", scene.group, account=False)
        SessionAthlete.objects.create(club=scene.club, training_session=scene.training_session, athlete=athlete)
        be_here(scene, athlete)
        see(scene.training_session, athlete, scene.coach, 1, "held")
    client = signed_in(scene.coach)
    with django_assert_num_queries(9):
        client.get(f"/coach/sessions/{scene.training_session.pk}")
    with django_assert_num_queries(16):
        summary(client, scene)


def test_closing_in_one_tap_takes_the_count_along(scene: Scene, signed_in: SignedIn) -> None:
    client, address = signed_in(scene.coach), f"/coach/sessions/{scene.training_session.pk}"
    assert client.post(f"{address}/close", {"adults": "", "visitors": "1"}).status_code == 400
    assert "Closed by" not in summary(client, scene)
    client.post(f"{address}/close", {"adults": "2", "visitors": "1"})
    text = summary(client, scene)
    assert "Closed by Rona" in text
    assert "Adults here: 2" in text
    assert "Visitors: 1" in text
    client.post(f"{address}/reopen")
    assert "Closed by" not in summary(client, scene)


def test_a_note_is_kept_passed_on_and_taken_back_by_its_hand_alone(scene: Scene, signed_in: SignedIn) -> None:
    client, address = signed_in(scene.coach), f"/coach/sessions/{scene.training_session.pk}/notes"
    assert client.post(address, {"text": "   "}).status_code == 400
    assert client.post(address, {"text": "Wet lane", "to": str(scene.other_coach.pk)}).status_code == 404
    for _sent_twice in range(2):
        client.post(address, {"text": "Lane 3 is wet", "to": str(scene.second_coach.pk)})
    other = signed_in(scene.second_coach)
    assert "Lane 3 is wet" in summary(other, scene)
    assert "a note for you" in other.get("/today").content.decode()
    note = SessionNote.objects.get()
    assert other.post(address, {"remove": str(note.pk)}).status_code == 404
    client.post(address, {"remove": str(note.pk)})
    assert "Lane 3 is wet" not in summary(other, scene)
    assert "a note for you" not in other.get("/today").content.decode()


def test_the_next_point_is_one_in_hand_that_did_not_hold(scene: Scene, signed_in: SignedIn) -> None:
    today = today_in(scene.club.timezone)
    hands = make_feature(scene.club, "loose_hands", "Loose hands")
    for feature in (scene.feature, hands):
        Focus.objects.create(club=scene.club, athlete=scene.athlete, feature=feature, since=today, set_by=scene.coach)
    be_here(scene, scene.athlete)
    see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    text = summary(signed_in(scene.coach), scene)
    assert "Loose hands" in text[text.index("Next point") :]
    assert "Tall hips" not in text[text.index("Next point") :]
