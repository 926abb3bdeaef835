"""Training sessions by API: the list page by page, and the bundle for those on a session's list."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from pytest_django.fixtures import DjangoAssertNumQueries

from athletes.models import Clearance, ContactNumber, Person, Restriction
from sessions.models import Availability, Feature, Focus, GroupSettings, SessionAthlete, SessionCoach
from sessions.selectors.sessions_page import PAGE_SIZE
from teamtrack.common.clock import now_in, today_in
from tests.entries import see, tell
from tests.people import Scene, make_athlete, make_coach, make_session

SignedIn = Callable[..., Client]


def bundle(client: Client, scene: Scene) -> dict[str, Any]:
    response = client.get(f"/api/v1/sessions/{scene.training_session.pk}", {"as": "coach"})
    assert response.status_code == 200, response.content
    return response.json()


def athlete_of(found: dict[str, Any], person: Person) -> dict[str, Any]:
    return next(one for one in found["trackside"]["athletes"] if one["person"] == str(person.pk))


def test_list_page_by_page(scene: Scene, signed_in: SignedIn) -> None:
    """Two at each hour, so that a page ends between two that start together."""
    today = today_in(scene.club.timezone)
    later = [make_session(scene.group, day=today + timedelta(days=1 + number // 2)) for number in range(PAGE_SIZE + 2)]
    client = signed_in(scene.coach)
    found, cursor, pages = [], None, 0
    while pages == 0 or cursor:
        page = client.get("/api/v1/sessions", {"cursor": cursor} if cursor else {}).json()
        found += [one["id"] for one in page["items"]]
        cursor, pages = page["next"], pages + 1
    assert pages == 2
    wanted = sorted([scene.training_session, *later], key=lambda one: (one.starts_at, one.pk))
    assert found == [str(one.pk) for one in wanted]


def test_list_between_days(scene: Scene, signed_in: SignedIn) -> None:
    today = today_in(scene.club.timezone)
    past = make_session(scene.group, day=today - timedelta(days=7))
    make_session(scene.group, day=today - timedelta(days=9))
    asked = {"from": (past.starts_at - timedelta(days=1)).date(), "until": today - timedelta(days=1)}
    page = signed_in(scene.head_coach).get("/api/v1/sessions", asked).json()
    assert [one["id"] for one in page["items"]] == [str(past.pk)]


@pytest.mark.parametrize(
    ("query", "field"),
    [({"from": "tomorrow"}, "from"), ({"as": "king"}, "as"), ({"cursor": "x"}, "cursor"), ({"page": "2"}, "page")],
)
def test_a_bad_query_names_its_field(scene: Scene, signed_in: SignedIn, query: dict[str, str], field: str) -> None:
    response = signed_in(scene.coach).get("/api/v1/sessions", query)
    assert response.status_code == 400
    assert list(response.json()["fields"]) == [field]


@pytest.mark.parametrize("who", ["stranger", "other_coach", "admin"])
def test_absent_and_not_yours_alike(scene: Scene, signed_in: SignedIn, who: str) -> None:
    client = signed_in(getattr(scene, who))
    not_mine = client.get(f"/api/v1/sessions/{scene.training_session.pk}")
    absent = client.get(f"/api/v1/sessions/{scene.club.pk}")
    assert (not_mine.status_code, not_mine.content) == (404, absent.content)
    assert dict(not_mine.headers) == dict(absent.headers)


@pytest.mark.parametrize("who", ["head_coach", "athlete", "guardian"])
def test_the_bundle_is_for_those_on_the_list(scene: Scene, signed_in: SignedIn, who: str) -> None:
    found = signed_in(getattr(scene, who)).get(f"/api/v1/sessions/{scene.training_session.pk}").json()
    assert found["session"]["name"] == "Sprint technique"
    assert found["trackside"] is None


def test_a_coach_of_the_group_who_is_not_on_the_list_gets_no_bundle(scene: Scene, signed_in: SignedIn) -> None:
    third = make_coach(scene.club, "Thea", scene.group)
    assert bundle(signed_in(third), scene)["trackside"] is None


def test_bundle_of_a_coach(scene: Scene, signed_in: SignedIn) -> None:
    GroupSettings.objects.create(
        club=scene.club, group=scene.group, strides=12, rest_s=180, effort_low_pct=80, effort_high_pct=90
    )
    ContactNumber.objects.create(
        club=scene.club, athlete=scene.athlete, name="Greta", relation="mother", phone="+353 1 555", may_collect=True
    )
    Focus.objects.create(
        club=scene.club,
        athlete=scene.athlete,
        feature=scene.feature,
        since=today_in(scene.club.timezone),
        set_by=scene.coach,
    )
    before = make_session(
        scene.group, day=today_in(scene.club.timezone) - timedelta(days=2), athletes=(scene.athlete, scene.child)
    )
    tell(before, scene.athlete, scene.second_coach, 1, "Grow taller")
    see(before, scene.athlete, scene.second_coach, 2, "held")
    found = bundle(signed_in(scene.coach), scene)
    athlete = athlete_of(found, scene.athlete)
    last = athlete["last_words"]["tall_hips"]
    assert (last["words"], last["how"], last["by"], last["followed"]) == ("Grow taller", "told", "Bran", "held")
    assert (athlete["points"], athlete["strength"], athlete["looks_last_time"]) == (["tall_hips"], "tall_hips", 1)
    assert (athlete["strides"], athlete["rest_s"], athlete["effort"]) == (12, 180, "80 to 90 %")
    assert (athlete["strides_a_feature"], athlete["at_once"], athlete["features"]) == (3, 1, ["tall_hips"])
    assert athlete["numbers"] == [{"name": "Greta", "relation": "mother", "phone": "+353 1 555", "may_collect": True}]
    child = athlete_of(found, scene.child)
    assert (child["strides"], child["effort"], child["is_minor"]) == (8, "", True)
    assert athlete_of(found, scene.adult_athlete)["is_minor"] is False
    assert found["trackside"]["emergency_number"] == "112"


def test_todays_entries_come_by_the_exchange_alone(scene: Scene, signed_in: SignedIn) -> None:
    tell(scene.training_session, scene.athlete, scene.coach, 1, "Grow taller")
    assert athlete_of(bundle(signed_in(scene.coach), scene), scene.athlete)["last_words"] == {}


def test_health_is_named_only_where_it_is_allowed(scene: Scene, signed_in: SignedIn) -> None:
    may = athlete_of(bundle(signed_in(scene.coach), scene), scene.athlete)["may"]
    assert may == ["availability", "feedback", "record"]


def test_a_helper_under_18_gets_no_numbers_of_families(scene: Scene, signed_in: SignedIn) -> None:
    ContactNumber.objects.create(club=scene.club, athlete=scene.athlete, name="Greta", relation="", phone="1")
    found = bundle(signed_in(scene.helper), scene)
    assert found["trackside"]["posts_as"] == "helper_under_18"
    assert athlete_of(found, scene.athlete)["numbers"] == []


def test_whom_the_rule_of_adults_counts(scene: Scene, signed_in: SignedIn) -> None:
    """A helper under 18 and an adult without a check in date never count."""
    Clearance.objects.filter(coach=scene.second_coach).delete()
    staff = bundle(signed_in(scene.coach), scene)["trackside"]["staff"]
    assert {one["name"]: one["counts"] for one in staff} == {"Rona": True, "Bran": False, "Piet": False}


def test_who_is_out_without_a_reason(scene: Scene, signed_in: SignedIn) -> None:
    now = now_in(scene.club.timezone)
    session = scene.training_session
    Availability.objects.create(
        club=scene.club, athlete=scene.child, training_session=session, starts_at=session.starts_at,
        ends_at=session.ends_at, state="modified", option="drills", said_by=scene.guardian, said_as="guardian",
        said_at=now,
    )  # fmt: skip
    SessionAthlete.objects.filter(athlete=scene.adult_athlete).update(comes="away")
    found = bundle(signed_in(scene.coach), scene)
    people = [athlete_of(found, one) for one in (scene.child, scene.adult_athlete, scene.athlete)]
    assert [(one["out"], one["is_away"]) for one in people] == [("drills only", False), ("away", True), ("", False)]


def test_a_restricted_record_is_not_in_the_bundle(scene: Scene, signed_in: SignedIn) -> None:
    Restriction.objects.create(
        club=scene.club, athlete=scene.child, purpose="record", first_day=today_in(scene.club.timezone)
    )
    names = {one["given_name"] for one in bundle(signed_in(scene.coach), scene)["trackside"]["athletes"]}
    assert names == {"Noela", "Tam"}


def test_feedback_withheld_leaves_no_history(scene: Scene, signed_in: SignedIn) -> None:
    Restriction.objects.create(
        club=scene.club, athlete=scene.athlete, purpose="feedback", first_day=today_in(scene.club.timezone)
    )
    athlete = athlete_of(bundle(signed_in(scene.coach), scene), scene.athlete)
    assert (athlete["points"], athlete["last_words"], athlete["strength"]) == (None, None, None)


def test_a_retired_feature_is_not_offered(scene: Scene, signed_in: SignedIn) -> None:
    today = today_in(scene.club.timezone)
    Feature.objects.create(club=scene.club, code="old", label="Old", retired_on=today)
    features = bundle(signed_in(scene.coach), scene)["trackside"]["features"]
    assert [one["code"] for one in features] == ["tall_hips"]


def test_who_was_taken_off_the_list_reads_no_bundle(scene: Scene, signed_in: SignedIn) -> None:
    SessionCoach.objects.filter(coach=scene.coach).update(taken_off_at=now_in(scene.club.timezone))
    assert bundle(signed_in(scene.coach), scene)["trackside"] is None


@pytest.mark.parametrize("rows", [0, 3, 30])
def test_query_count_does_not_grow(
    scene: Scene, signed_in: SignedIn, rows: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    before = make_session(scene.group, day=today_in(scene.club.timezone) - timedelta(days=2))
    for number in range(rows):
        athlete = make_athlete(scene.club, f"Runner{number}", scene.group, account=False)
        for session in (scene.training_session, before):
            SessionAthlete.objects.create(club=scene.club, training_session=session, athlete=athlete)
        tell(before, athlete, scene.coach, 1, f"words {number}")
        make_session(scene.group, day=today_in(scene.club.timezone) + timedelta(days=1))
    tell(before, scene.athlete, scene.coach, 1, "words")
    client = signed_in(scene.coach)
    with django_assert_num_queries(6):
        client.get("/api/v1/sessions")
    with django_assert_num_queries(25):
        bundle(client, scene)
