"""Log strides and My running: own view before the coach's, four words under 13, pain only where it may be kept."""

from collections.abc import Callable
from datetime import time, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from athletes.models import Person
from sessions.models import Entry, Focus, TrainingSession
from teamtrack.common.clock import now_in, today_in
from tests.entries import make_entry, see, tell
from tests.people import Scene, answer, make_session

SignIn = Callable[[Person], Client]


@pytest.fixture
def begun(scene: Scene) -> TrainingSession:
    """Today's technique session, begun at midnight."""
    return make_session(
        scene.group,
        starts=time(0),
        minutes=23 * 60,
        coaches=(scene.coach,),
        athletes=(scene.athlete, scene.child, scene.adult_athlete),
        venue=scene.venue,
    )


def told(training_session: TrainingSession, scene: Scene) -> None:
    """A result and words of the coach about the athlete."""
    see(training_session, scene.athlete, scene.coach, 1, "held")
    tell(training_session, scene.athlete, scene.coach, 1, "grow to the sky")


def focus(scene: Scene, athlete: Person) -> None:
    Focus.objects.create(
        club=scene.club,
        athlete=athlete,
        feature=scene.feature,
        since=today_in(scene.club.timezone),
        set_by=scene.coach,
    )


def page(training_session: TrainingSession) -> str:
    return f"/athlete/log/{training_session.pk}"


def test_from_13_effort_is_0_to_10_and_under_13_four_words(
    scene: Scene, begun: TrainingSession, signed_in: SignIn
) -> None:
    older = signed_in(scene.athlete).get(page(begun)).content.decode()
    for number in range(11):
        assert f'name="effort" value="{number}"' in older
    child = signed_in(scene.child).get(page(begun)).content.decode()
    sent = [number for number in range(11) if f'name="effort" value="{number}"' in child]
    assert sent == [2, 3, 5, 7]
    for word in ("easy", "moderate", "hard", "very hard"):
        assert f"<span>{word}</span>" in child


def test_points_in_hand_are_asked_one_by_one(scene: Scene, begun: TrainingSession, signed_in: SignIn) -> None:
    focus(scene, scene.athlete)
    text = signed_in(scene.athlete).get(page(begun)).content.decode()
    assert text.count('data-point="tall_hips"') == 3
    assert 'data-point="tall_hips"' not in signed_in(scene.child).get(page(begun)).content.decode()


def test_the_place_of_pain_is_asked_only_where_it_may_be_kept(
    scene: Scene, begun: TrainingSession, signed_in: SignIn
) -> None:
    assert 'name="place"' not in signed_in(scene.athlete).get(page(begun)).content.decode()
    for giver in (scene.athlete, scene.guardian):
        answer(scene.athlete, giver, "health", names=(scene.coach,))
    text = signed_in(scene.athlete).get(page(begun)).content.decode()
    assert 'name="place" value="knee"' in text
    assert text.count("data-urgent-place") == 3
    answer(scene.athlete, scene.guardian, "health", "withdrawn")
    assert 'name="place"' not in signed_in(scene.athlete).get(page(begun)).content.decode()


def test_the_emergency_number_stands_on_the_page(scene: Scene, begun: TrainingSession, signed_in: SignIn) -> None:
    text = signed_in(scene.athlete).get(page(begun)).content.decode()
    assert 'href="tel:112"' in text
    assert "Stop. Tell an adult here. See a doctor or physiotherapist if it stays." in text


def test_what_was_logged_is_shown_again_for_correction(scene: Scene, begun: TrainingSession, signed_in: SignIn) -> None:
    first = make_entry(begun, "felt", scene.athlete, scene.athlete, effort=4, words="feathery")
    second = make_entry(begun, "felt", scene.athlete, scene.athlete, effort=6, words="heavy", replaces=first)
    text = signed_in(scene.athlete).get(page(begun)).content.decode()
    assert f'data-kept="{second.pk}"' in text
    assert "heavy" in text
    assert "feathery" not in text


def test_before_it_begins_nothing_can_be_logged(scene: Scene, signed_in: SignIn) -> None:
    tomorrow = today_in(scene.club.timezone) + timedelta(days=1)
    later = make_session(scene.group, day=tomorrow, athletes=(scene.athlete,))
    text = signed_in(scene.athlete).get(page(later)).content.decode()
    assert "data-log" not in text
    assert "not begun yet" in text


def test_a_session_without_technique_asks_for_the_day_alone(scene: Scene, signed_in: SignIn) -> None:
    hard = make_session(scene.group, kind="hard", starts=time(0), athletes=(scene.athlete,))
    text = signed_in(scene.athlete).get(page(hard)).content.decode()
    assert 'data-log="day"' in text
    assert 'data-log="felt"' not in text


def test_absent_and_not_yours_look_alike(scene: Scene, begun: TrainingSession, signed_in: SignIn) -> None:
    found = [
        signed_in(scene.athlete).get(f"/athlete/log/{uuid4()}"),
        signed_in(scene.stranger_athlete).get(page(begun)),
        signed_in(scene.coach).get(page(begun)),
        signed_in(scene.guardian).get(page(begun)),
    ]
    assert {(response.status_code, response.content) for response in found} == {(404, found[0].content)}


def test_the_bar_leads_to_todays_session(scene: Scene, begun: TrainingSession, signed_in: SignIn) -> None:
    assert signed_in(scene.athlete).get("/athlete/log").headers["Location"] == page(begun)


def test_with_none_today_earlier_days_are_offered(scene: Scene, signed_in: SignIn) -> None:
    day = today_in(scene.club.timezone) - timedelta(days=2)
    earlier = make_session(scene.group, day=day, athletes=(scene.adult_athlete,))
    TrainingSession.objects.filter(pk=scene.training_session.pk).update(state="called_off")
    text = signed_in(scene.adult_athlete).get("/athlete/log").content.decode()
    assert "No strides today." in text
    assert page(earlier) in text


def test_the_coachs_words_come_after_the_own_view(scene: Scene, begun: TrainingSession, signed_in: SignIn) -> None:
    told(begun, scene)
    client = signed_in(scene.athlete)
    before = client.get("/athlete/running").content.decode()
    assert "grow to the sky" not in before
    assert "Your own view first" in before
    make_entry(begun, "felt", scene.athlete, scene.athlete, effort=5, words="floating")
    after = client.get("/athlete/running").content.decode()
    assert "grow to the sky" in after
    assert "floating" in after
    assert "5 hard" in after


def test_a_withdrawn_own_view_closes_it_again(scene: Scene, begun: TrainingSession, signed_in: SignIn) -> None:
    told(begun, scene)
    own = make_entry(begun, "felt", scene.athlete, scene.athlete, effort=5)
    make_entry(begun, "felt", scene.athlete, scene.athlete, replaces=own, withdrawn=True)
    assert "grow to the sky" not in signed_in(scene.athlete).get("/athlete/running").content.decode()


def test_what_the_runner_said_to_the_coach_is_an_own_view(
    scene: Scene, begun: TrainingSession, signed_in: SignIn
) -> None:
    told(begun, scene)
    make_entry(begun, "own_view", scene.athlete, scene.coach, words="felt tall")
    text = signed_in(scene.athlete).get("/athlete/running").content.decode()
    assert "felt tall" in text
    assert "grow to the sky" in text


def test_points_held_and_in_hand(scene: Scene, begun: TrainingSession, signed_in: SignIn) -> None:
    told(begun, scene)
    make_entry(begun, "felt", scene.athlete, scene.athlete, effort=5)
    text = signed_in(scene.athlete).get("/athlete/running").content.decode()
    assert "Points held" in text
    assert "Now working on" not in text
    focus(scene, scene.athlete)
    text = signed_in(scene.athlete).get("/athlete/running").content.decode()
    assert "Points held" not in text
    assert "Now working on" in text


def test_a_result_that_was_corrected_to_another_runner_is_gone(
    scene: Scene, begun: TrainingSession, signed_in: SignIn
) -> None:
    told(begun, scene)
    make_entry(begun, "felt", scene.athlete, scene.athlete, effort=5)
    cue = Entry.objects.get(kind="cue")
    make_entry(begun, "cue", scene.adult_athlete, scene.coach, stride=1, replaces=cue, **cue.content)
    assert "grow to the sky" not in signed_in(scene.athlete).get("/athlete/running").content.decode()


def test_nobody_elses_words_and_no_pain_stand_there(scene: Scene, begun: TrainingSession, signed_in: SignIn) -> None:
    told(begun, scene)
    make_entry(begun, "felt", scene.child, scene.child, words="mine alone")
    text = signed_in(scene.child).get("/athlete/running").content.decode()
    assert "mine alone" in text
    assert "grow to the sky" not in text
    assert signed_in(scene.guardian).get("/athlete/running").status_code == 404


def test_who_can_see_this_is_said_by_name(scene: Scene, signed_in: SignIn) -> None:
    text = signed_in(scene.child).get("/athlete/running").content.decode()
    assert "Rona Tester" in text
    assert "Greta Tester" in text
    assert "Carla Tester" not in text
    answer(scene.athlete, scene.athlete, "feedback", "no", about_guardian=scene.guardian)
    assert "Greta Tester" not in signed_in(scene.athlete).get("/athlete/running").content.decode()


@pytest.mark.parametrize("address", ["/athlete/running", "/athlete/log", "LOG"])
def test_number_of_queries_is_the_same_with_0_3_and_30_rows(
    scene: Scene, begun: TrainingSession, signed_in: SignIn, address: str
) -> None:
    address = page(begun) if address == "LOG" else address
    client = signed_in(scene.athlete)
    counts = []
    for more in (0, 3, 27):
        for number in range(more):
            day = today_in(scene.club.timezone) - timedelta(days=1 + number % 5)
            past = make_session(scene.group, day=day, starts=time(number % 12), athletes=(scene.athlete,))
            told(past, scene)
            make_entry(past, "felt", scene.athlete, scene.athlete, effort=3)
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            client.get(address)
        counts.append(len(queries))
    assert len(set(counts)) == 1
    assert now_in(scene.club.timezone) > begun.starts_at
