"""The Athlete page and the lists: what a coach and the head coach may see, change of focus, health withdrawn."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from pytest_django.fixtures import DjangoAssertNumQueries

from athletes.models import AccessLogEntry, Person, Restriction
from athletes.services.record_permission import withdraw_permission
from athletes.viewer import viewer_for
from sessions.models import Feature, Focus
from teamtrack.common.clock import today_in
from tests.entries import make_pain, see, tell
from tests.people import Scene, answer, make_athlete, make_feature, make_session

SignedIn = Callable[..., Client]


def page(client: Client, athlete: Person, role: str = "coach") -> str:
    response = client.get(f"/{role}/athletes/{athlete.pk}")
    assert response.status_code == 200
    return response.content.decode()


def allow_health(scene: Scene) -> None:
    answer(scene.athlete, scene.athlete, names=(scene.coach,))
    answer(scene.athlete, scene.guardian, names=(scene.coach,))


def in_hand(scene: Scene) -> list[str]:
    today = today_in(scene.club.timezone)
    rows = Focus.objects.filter(athlete=scene.athlete).exclude(until__lt=today)
    return list(rows.values_list("feature__code", flat=True))


def change(client: Client, scene: Scene, feature: Feature, word: str) -> int:
    address = f"/coach/athletes/{scene.athlete.pk}/focus"
    return client.post(address, {"feature": feature.pk, "in_hand": word}).status_code


def test_words_and_what_followed(scene: Scene, signed_in: SignedIn) -> None:
    see(scene.training_session, scene.athlete, scene.second_coach, 1, "not_yet")
    tell(scene.training_session, scene.athlete, scene.second_coach, 1, "hold a feather")
    see(scene.training_session, scene.athlete, scene.second_coach, 2, "held")
    text = page(signed_in(scene.coach), scene.athlete)
    assert "<q>hold a feather</q>" in text
    assert "coach Bran" in text
    assert "then <strong>held</strong>" in text
    assert text.index("First stride, before any word") < text.index("Later strides")


def test_no_history_yet(scene: Scene, signed_in: SignedIn) -> None:
    text = page(signed_in(scene.coach), scene.athlete)
    assert "No history yet: watch two strides, say a strength." in text
    assert "Not recorded" in text


def test_what_may_not_be_seen_is_not_recorded_and_nothing_else(scene: Scene, signed_in: SignedIn) -> None:
    tell(scene.training_session, scene.athlete, scene.coach, 1, "hold a feather")
    make_pain(scene.training_session, scene.athlete, scene.coach)
    Restriction.objects.create(
        club=scene.club, athlete=scene.athlete, purpose="feedback", first_day=today_in(scene.club.timezone)
    )
    text = page(signed_in(scene.coach), scene.athlete)
    assert text.count("Not recorded") == 2
    assert "feather" not in text
    assert "Knee" not in text


def test_without_health_the_page_is_as_if_there_were_no_note(scene: Scene, signed_in: SignedIn) -> None:
    """But for what is new with every request: the token and its mask."""
    client = signed_in(scene.coach)
    before = [line for line in page(client, scene.athlete).splitlines() if "csrf" not in line.lower()]
    make_pain(scene.training_session, scene.athlete, scene.coach)
    after = [line for line in page(client, scene.athlete).splitlines() if "csrf" not in line.lower()]
    assert before == after


def test_a_guardian_withdraws_health_and_the_next_request_shows_no_note(scene: Scene, signed_in: SignedIn) -> None:
    make_pain(scene.training_session, scene.athlete, scene.coach)
    allow_health(scene)
    client = signed_in(scene.coach)
    assert "Knee" in page(client, scene.athlete)
    reads = AccessLogEntry.objects.filter(verb="read", kind="pain")
    assert [(row.actor_role, row.fields) for row in reads] == [("coach", ["place", "side", "words"])]
    withdraw_permission(viewer=viewer_for(scene.guardian, "guardian"), athlete_id=scene.athlete.pk, purpose="health")
    assert "Knee" not in page(client, scene.athlete)
    assert reads.count() == 1


def test_the_head_coach_sees_the_record_and_history_by_share(scene: Scene, signed_in: SignedIn) -> None:
    tell(scene.training_session, scene.athlete, scene.coach, 1, "hold a feather")
    client = signed_in(scene.head_coach)
    assert "feather" not in page(client, scene.athlete, "head-coach")
    answer(scene.athlete, scene.athlete, "share", names=(scene.head_coach,))
    text = page(client, scene.athlete, "head-coach")
    assert "feather" in text
    assert "Change point" not in text


@pytest.mark.parametrize("role", ["coach", "head-coach"])
@pytest.mark.parametrize("who", ["stranger", "other_coach", "admin", "guardian", "athlete"])
def test_absent_and_not_yours_are_identical(scene: Scene, signed_in: SignedIn, who: str, role: str) -> None:
    client = signed_in(getattr(scene, who))
    not_mine = client.get(f"/{role}/athletes/{scene.athlete.pk}")
    absent = client.get(f"/{role}/athletes/{scene.club.pk}")
    assert (not_mine.status_code, not_mine.content) == (404, absent.content)
    assert dict(not_mine.headers) == dict(absent.headers)


def test_change_focus_in_two_taps_and_undo(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    assert change(client, scene, scene.feature, "yes") == 302
    assert in_hand(scene) == ["tall_hips"]
    text = page(client, scene.athlete)
    assert "Tall hips: in hand" in text
    assert change(client, scene, scene.feature, "no") == 302
    assert in_hand(scene) == []
    acts = AccessLogEntry.objects.filter(kind="focus")
    assert [(row.verb, row.code) for row in acts] == [("set", "MEMBERSHIP_BASIS")] * 2


def test_a_third_point_puts_the_longest_worked_on_aside(scene: Scene, signed_in: SignedIn) -> None:
    """One or two features at a time (common practice, no source)."""
    today, client = today_in(scene.club.timezone), signed_in(scene.coach)
    hands, knees = make_feature(scene.club, "hands", "Hands"), make_feature(scene.club, "knees", "Knees")
    for feature, days in ((scene.feature, 20), (hands, 10)):
        Focus.objects.create(
            club=scene.club, athlete=scene.athlete, feature=feature, since=today - timedelta(days), set_by=scene.coach
        )
    assert change(client, scene, knees, "yes") == 302
    assert in_hand(scene) == ["hands", "knees"]
    assert change(client, scene, knees, "yes") == 302
    assert in_hand(scene) == ["hands", "knees"]


def test_focus_is_refused_where_form_history_is(scene: Scene, signed_in: SignedIn) -> None:
    Restriction.objects.create(
        club=scene.club, athlete=scene.athlete, purpose="feedback", first_day=today_in(scene.club.timezone)
    )
    assert change(signed_in(scene.coach), scene, scene.feature, "yes") == 400
    assert in_hand(scene) == []


@pytest.mark.parametrize("who", ["stranger", "other_coach", "head_coach"])
def test_nobody_else_changes_the_focus(scene: Scene, signed_in: SignedIn, who: str) -> None:
    assert change(signed_in(getattr(scene, who)), scene, scene.feature, "yes") == 404
    assert in_hand(scene) == []


def test_a_feature_of_another_club_or_a_retired_one_is_refused(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    assert change(client, scene, make_feature(scene.stranger_club), "yes") == 404
    Feature.objects.filter(pk=scene.feature.pk).update(retired_on=today_in(scene.club.timezone))
    assert change(client, scene, scene.feature, "yes") == 400
    assert change(client, scene, scene.feature, "maybe") == 400
    assert in_hand(scene) == []


def test_lists_by_group(scene: Scene, signed_in: SignedIn) -> None:
    make_athlete(scene.club, "Lone", scene.other_group)
    text = signed_in(scene.coach).get("/coach/athletes").content.decode()
    assert [name in text for name in ("Noela", "Ivo", "Tam", "Lone", "Una")] == [True, True, True, False, False]
    text = signed_in(scene.head_coach).get("/head-coach/athletes").content.decode()
    assert [name in text for name in ("Noela", "Lone", "Una")] == [True, True, False]
    assert "Longer distance" in text


def test_the_head_coachs_list_shows_points_only_where_shared(scene: Scene, signed_in: SignedIn) -> None:
    Focus.objects.create(
        club=scene.club,
        athlete=scene.athlete,
        feature=scene.feature,
        since=today_in(scene.club.timezone),
        set_by=scene.coach,
    )
    assert "Tall hips" in signed_in(scene.coach).get("/coach/athletes").content.decode()
    client = signed_in(scene.head_coach)
    assert "Tall hips" not in client.get("/head-coach/athletes").content.decode()
    answer(scene.athlete, scene.athlete, "share", names=(scene.head_coach,))
    assert "Tall hips" in client.get("/head-coach/athletes").content.decode()


@pytest.mark.parametrize("rows", [0, 3, 30])
def test_query_counts_do_not_grow(
    scene: Scene, signed_in: SignedIn, rows: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    for number in range(rows):
        day = today_in(scene.club.timezone) - timedelta(days=number + 1)
        before = make_session(scene.group, day=day, athletes=(scene.athlete,))
        feature = make_feature(scene.club, f"f{number}", f"Feature {number}")
        tell(before, scene.athlete, scene.coach, 1, "words", feature.code)
        see(before, scene.athlete, scene.second_coach, 2, "held", feature.code)
        make_athlete(scene.club, f"Runner{number}", scene.group, account=False)
    client = signed_in(scene.coach)
    with django_assert_num_queries(15):
        page(client, scene.athlete)
    with django_assert_num_queries(10):
        client.get("/coach/athletes")
