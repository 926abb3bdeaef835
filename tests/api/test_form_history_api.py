"""Form history by API: by feature, newest first, each part under its own purpose; a health read leaves its log row."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from athletes.models import AccessLogEntry, Person
from athletes.services.record_permission import withdraw_permission
from athletes.viewer import viewer_for
from sessions.models import Entry, Focus
from teamtrack.common.clock import today_in
from tests.entries import make_entry, make_pain, see, tell
from tests.people import Scene, answer, make_feature, make_session

SignedIn = Callable[..., Client]


def address(athlete: Person, role: str = "coach") -> str:
    return f"/api/v1/athletes/{athlete.pk}/form-history?as={role}"


def health_reads() -> int:
    return AccessLogEntry.objects.filter(verb="read", kind="pain").count()


def allow_health(scene: Scene) -> None:
    answer(scene.athlete, scene.athlete, names=(scene.coach,))
    answer(scene.athlete, scene.guardian, names=(scene.coach,))


def test_history_by_feature(scene: Scene, signed_in: SignedIn) -> None:
    make_feature(scene.club, "loose_hands", "Loose hands")
    session, coach, athlete = scene.training_session, scene.coach, scene.athlete
    before = make_session(scene.group, day=today_in(scene.club.timezone) - timedelta(days=2))
    see(before, athlete, coach, 1, "not_yet", "loose_hands")
    tell(before, athlete, coach, 1, "hold a feather", "loose_hands")
    see(before, athlete, coach, 2, "held", "loose_hands")
    see(session, athlete, scene.second_coach, 1, "partly")
    Focus.objects.create(
        club=scene.club, athlete=athlete, feature=scene.feature, since=today_in(scene.club.timezone), set_by=coach
    )
    found = signed_in(coach).get(address(athlete)).json()
    assert found["points"] == ["tall_hips"]
    assert [one["feature"] for one in found["features"]] == ["tall_hips", "loose_hands"]
    hands = found["features"][1]
    [words] = hands["words"]
    assert (words["words"], words["by"], words["stride"]) == ("hold a feather", str(coach.pk), 1)
    assert (words["followed"]["shown"], words["followed"]["stride"]) == ("held", 2)
    assert [one["shown"] for one in hands["first_strides"]] == ["not_yet"]
    assert [one["shown"] for one in hands["later_strides"]] == ["held"]


def test_corrections_count_and_withdrawn_ones_do_not(scene: Scene, signed_in: SignedIn) -> None:
    """A correction may change everything but session and kind, the athlete too."""
    session, coach = scene.training_session, scene.coach
    first = see(session, scene.athlete, coach, 1, "held")
    make_entry(
        session, "observation", scene.athlete, coach, replaces=first, stride=1, feature="tall_hips", shown="partly"
    )
    gone = tell(session, scene.athlete, coach, 1, "gone")
    make_entry(session, "cue", scene.athlete, coach, replaces=gone, withdrawn=True)
    mistaken = see(session, scene.athlete, coach, 2, "held")
    make_entry(
        session, "observation", scene.child, coach, replaces=mistaken, stride=2, feature="tall_hips", shown="held"
    )
    [history] = signed_in(coach).get(address(scene.athlete)).json()["features"]
    assert [one["shown"] for one in history["first_strides"]] == ["partly"]
    assert (history["later_strides"], history["words"]) == ([], [])
    [child] = signed_in(coach).get(address(scene.child)).json()["features"]
    assert [one["shown"] for one in child["later_strides"]] == ["held"]


def test_a_health_note_is_logged_before_it_is_sent(scene: Scene, signed_in: SignedIn) -> None:
    make_pain(scene.training_session, scene.athlete, scene.coach)
    client = signed_in(scene.coach)
    assert client.get(address(scene.athlete)).json()["health"] is None
    assert health_reads() == 0
    allow_health(scene)
    [note] = client.get(address(scene.athlete)).json()["health"]
    assert (note["place"], note["side"], note["words"]) == ("knee", "left", "since Monday")
    assert health_reads() == 1


def test_withdrawing_health_hides_the_note_at_the_next_request(scene: Scene, signed_in: SignedIn) -> None:
    make_pain(scene.training_session, scene.athlete, scene.coach)
    allow_health(scene)
    client = signed_in(scene.coach)
    assert client.get(address(scene.athlete)).json()["health"]
    withdraw_permission(viewer=viewer_for(scene.guardian, "guardian"), athlete_id=scene.athlete.pk, purpose="health")
    assert client.get(address(scene.athlete)).json()["health"] is None
    assert health_reads() == 1
    assert Entry.objects.filter(kind="pain").exists()


def test_a_note_taken_back_is_gone_and_nothing_is_logged(scene: Scene, signed_in: SignedIn) -> None:
    pain = make_pain(scene.training_session, scene.athlete, scene.coach)
    make_entry(scene.training_session, "pain", scene.athlete, scene.coach, replaces=pain, withdrawn=True)
    allow_health(scene)
    assert signed_in(scene.coach).get(address(scene.athlete)).json()["health"] is None
    assert health_reads() == 0


def test_a_helper_under_18_never_reads_health(scene: Scene, signed_in: SignedIn) -> None:
    make_pain(scene.training_session, scene.athlete, scene.coach)
    see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    answer(scene.athlete, scene.athlete, names=(scene.helper,))
    answer(scene.athlete, scene.guardian, names=(scene.helper,))
    found = signed_in(scene.helper).get(address(scene.athlete)).json()
    assert found["health"] is None
    assert len(found["features"]) == 1


def test_head_coach_reads_history_by_share_alone(scene: Scene, signed_in: SignedIn) -> None:
    see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    client = signed_in(scene.head_coach)
    found = client.get(address(scene.athlete, "head_coach")).json()
    assert (found["points"], found["features"], found["health"]) == (None, None, None)
    answer(scene.athlete, scene.athlete, "share", names=(scene.head_coach,))
    found = client.get(address(scene.athlete, "head_coach")).json()
    assert len(found["features"]) == 1


def test_a_coach_of_another_group_reads_by_share_alone(scene: Scene, signed_in: SignedIn) -> None:
    see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    client = signed_in(scene.other_coach)
    assert client.get(address(scene.athlete)).status_code == 404
    answer(scene.athlete, scene.athlete, "share", names=(scene.other_coach,))
    assert len(client.get(address(scene.athlete)).json()["features"]) == 1


@pytest.mark.parametrize(
    ("who", "role"),
    [
        ("stranger", "coach"),
        ("other_coach", "coach"),
        ("athlete", "athlete"),
        ("guardian", "guardian"),
        ("admin", "admin"),
        ("coach", "head_coach"),
    ],
)
def test_absent_and_not_yours_alike(scene: Scene, signed_in: SignedIn, who: str, role: str) -> None:
    client = signed_in(getattr(scene, who))
    not_mine = client.get(address(scene.athlete, role))
    absent = client.get(f"/api/v1/athletes/{scene.club.pk}/form-history?as={role}")
    assert (not_mine.status_code, not_mine.content) == (404, absent.content)
    assert dict(not_mine.headers) == dict(absent.headers)
