"""What a group has by default at a technique session: who sets it, faults in words, two at once, undo."""

import re
from collections.abc import Callable
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django.fixtures import DjangoAssertNumQueries

from athletes.models import AccessLogEntry, Clearance, CoachAssignment, EventGroup
from sessions.models import Feature, GroupSettings
from tests.people import Scene, make_feature

SignedIn = Callable[..., Client]
TYPED = {
    "strides": 6,
    "rest_s": "2:30",
    "run_cm": "80",
    "effort_low_pct": 80,
    "effort_high_pct": 90,
    "at_once": 2,
    "strides_a_feature": 3,
}


def address(group: EventGroup, role: str = "coach") -> str:
    return f"/{role}/groups/{group.pk}"


def fields_of(text: str) -> dict[str, str]:
    """The form's fields as a browser would post them."""
    form = text[text.index('<form class="stack"') :]
    found = {}
    for tag in re.findall(r"<input[^>]*>", form[: form.index("</form>")]):
        given = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        if given.get("type") != "checkbox" or " checked" in tag:
            found[given["name"]] = unescape(given.get("value", "on" if given.get("type") == "checkbox" else ""))
    return found


def opened(client: Client, group: EventGroup, role: str = "coach") -> dict[str, str]:
    response = client.get(address(group, role))
    assert response.status_code == 200
    return fields_of(response.content.decode())


def looks(feature: Feature) -> str:
    return f"looks-{feature.pk.hex}"


def test_a_coach_changes_the_groups_defaults(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    before = opened(client, scene.group)
    assert (before["strides"], before["rest_s"], before["at_once"]) == ("8", "3:00", "1")
    assert client.post(address(scene.group), before | TYPED).status_code == 302
    now = GroupSettings.objects.get(group=scene.group)
    assert (now.strides, now.rest_s, now.effort_low_pct, now.effort_high_pct, now.at_once) == (6, 150, 80, 90, 2)
    line = AccessLogEntry.objects.order_by("seq").last()
    assert line is not None
    assert (line.verb, line.kind, line.actor_role) == ("set", "group", "coach")
    assert set(line.fields) == {"strides", "rest_s", "run_cm", "effort_low_pct", "effort_high_pct", "at_once"}


def test_what_is_set_reaches_the_phone(scene: Scene, signed_in: SignedIn) -> None:
    client, loose = signed_in(scene.coach), make_feature(scene.club, "loose_hands", "Loose hands")
    given = opened(client, scene.group) | TYPED
    del given[looks(loose)]
    client.post(address(scene.group), given)
    bundle = client.get(f"/api/v1/sessions/{scene.training_session.pk}", {"as": "coach"}).json()["trackside"]
    athlete = next(one for one in bundle["athletes"] if one["person"] == str(scene.adult_athlete.pk))
    assert (athlete["strides"], athlete["rest_s"], athlete["effort"]) == (6, 150, "80 to 90 %")
    assert athlete["distance"] == "80 m"
    assert (athlete["at_once"], athlete["strides_a_feature"], athlete["features"]) == (2, 3, ["tall_hips"])
    assert [one["code"] for one in bundle["features"]] == ["tall_hips"]


def test_a_club_in_yards_types_and_sees_yards(scene: Scene, signed_in: SignedIn) -> None:
    scene.club.distance_unit = "yd"
    scene.club.save()
    client = signed_in(scene.coach)
    assert opened(client, scene.group)["run_cm"] == "66"
    assert client.post(address(scene.group), opened(client, scene.group) | {"run_cm": "64"}).status_code == 302
    assert GroupSettings.objects.get(group=scene.group).run_cm == 5852
    assert opened(client, scene.group)["run_cm"] == "64"
    bundle = client.get(f"/api/v1/sessions/{scene.training_session.pk}", {"as": "coach"}).json()["trackside"]
    athlete = next(one for one in bundle["athletes"] if one["person"] == str(scene.adult_athlete.pk))
    assert athlete["distance"] == "64 yd"


def test_a_point_left_out_by_one_group_stays_the_others(scene: Scene, signed_in: SignedIn) -> None:
    loose = make_feature(scene.club, "loose_hands", "Loose hands")
    loose.groups.add(scene.other_group)
    rona, odo = signed_in(scene.coach), signed_in(scene.other_coach)
    assert looks(loose) not in opened(rona, scene.group)
    rona.post(address(scene.group), opened(rona, scene.group) | {looks(loose): "on"})
    assert looks(loose) in opened(rona, scene.group)
    theirs = opened(odo, scene.other_group)
    del theirs[looks(loose)], theirs[looks(scene.feature)]
    assert odo.post(address(scene.other_group), theirs).status_code == 400
    assert odo.post(address(scene.other_group), theirs | {looks(loose): "on"}).status_code == 302
    assert {looks(loose), looks(scene.feature)} <= set(opened(rona, scene.group))
    assert looks(scene.feature) not in opened(odo, scene.other_group)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"strides": "0"}, "greater than or equal to 1"),
        ({"strides": "many"}, "Enter a whole number."),
        ({"rest_s": "3 min"}, "Write minutes and seconds, for example 3:00"),
        ({"rest_s": "3:70"}, "Write minutes and seconds, for example 3:00"),
        ({"rest_s": "0:05"}, "from 0:15 to 30:00"),
        ({"rest_s": ""}, "This field is required."),
        ({"run_cm": "far"}, "Write a whole number, from 20 to 400 m."),
        ({"run_cm": "10"}, "from 20 to 400 m."),
        ({"run_cm": ""}, "This field is required."),
        ({"effort_low_pct": "80", "effort_high_pct": ""}, "Give both ends of the effort, or leave both empty."),
        ({"effort_low_pct": "95", "effort_high_pct": "90"}, "This end has to be 95 or more."),
        ({"effort_high_pct": "120"}, "less than or equal to 100"),
        ({"strides": "4", "strides_a_feature": "5"}, "No more than the 4 strides that each runs."),
        ({"at_once": "13"}, "less than or equal to 12"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(
    scene: Scene, signed_in: SignedIn, typed: dict[str, str], said: str
) -> None:
    client = signed_in(scene.coach)
    given = opened(client, scene.group) | {"effort_words": "quick and easy"} | typed
    response = client.post(address(scene.group), given)
    text = response.content.decode()
    assert response.status_code == 400
    assert said in text
    assert {name: fields_of(text).get(name, "") for name in typed} == typed
    assert fields_of(text)["effort_words"] == "quick and easy"
    assert not GroupSettings.objects.exists()
    mended = fields_of(text) | TYPED
    assert client.post(address(scene.group), mended).status_code == 302


def test_the_second_of_two_is_shown_what_changed(scene: Scene, signed_in: SignedIn) -> None:
    rona, bran = signed_in(scene.coach), signed_in(scene.second_coach)
    make_feature(scene.club, "loose_hands", "Loose hands")
    hers, his = opened(rona, scene.group), opened(bran, scene.group)
    del hers[looks(scene.feature)]
    assert rona.post(address(scene.group), hers | {"strides": 5, "rest_s": "4:00"}).status_code == 302
    response = bran.post(address(scene.group), his | {"strides": 7, "at_once": 3})
    text = response.content.decode()
    assert response.status_code == 409
    assert "Strides: now 5, was 8." in text
    assert "Rest between strides: now 4:00, was 3:00." in text
    assert "Tall hips: is no longer looked for." in text
    assert GroupSettings.objects.get().strides == 5
    typed = fields_of(text)
    assert (typed["strides"], typed["rest_s"], typed["at_once"]) == ("7", "3:00", "3")
    assert bran.post(address(scene.group), typed).status_code == 302
    assert (GroupSettings.objects.get().strides, GroupSettings.objects.get().at_once) == (7, 3)


def test_it_can_be_undone(scene: Scene, signed_in: SignedIn) -> None:
    client, loose = signed_in(scene.coach), make_feature(scene.club, "loose_hands", "Loose hands")
    before = opened(client, scene.group)
    changed = {name: value for name, value in before.items() if name != looks(loose)} | TYPED
    page = client.post(address(scene.group), changed, follow=True).content.decode()
    undo = page[page.index("data-undo=") : page.index("</form>", page.index("data-undo="))]
    fields = {name: unescape(value) for name, value in re.findall(r'name="([^"]+)" value="([^"]*)"', undo)}
    assert client.post(address(scene.group), fields).status_code == 302
    after = opened(client, scene.group)
    assert {k: v for k, v in after.items() if k in before} == before | {
        k: after[k] for k in ("csrfmiddlewaretoken", "shown")
    }
    assert looks(loose) in after


def test_saving_what_stands_there_changes_and_logs_nothing(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    lines = AccessLogEntry.objects.count()
    assert client.post(address(scene.group), opened(client, scene.group)).status_code == 302
    assert AccessLogEntry.objects.count() == lines


def test_without_what_the_page_showed_nothing_is_changed(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    for shown in ({}, {"shown": "forged"}):
        response = client.post(
            address(scene.group), {k: str(v) for k, v in TYPED.items()} | {looks(scene.feature): "on"} | shown
        )
        assert response.status_code == 400
        assert "This page is out of date." in response.content.decode()
    assert not GroupSettings.objects.exists()


def test_the_head_coach_sets_every_group(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.head_coach)
    for group in (scene.group, scene.other_group):
        given = opened(client, group, "head-coach") | TYPED
        assert client.post(address(group, "head-coach"), given).status_code == 302


@pytest.mark.parametrize("who", ["other_coach", "helper", "stranger", "athlete", "guardian", "admin", "head_coach"])
@pytest.mark.parametrize("method", ["get", "post"])
def test_not_yours_is_as_if_it_were_not_there(scene: Scene, signed_in: SignedIn, who: str, method: str) -> None:
    client = signed_in(getattr(scene, who))
    not_mine = getattr(client, method)(address(scene.group))
    absent = getattr(client, method)(f"/coach/groups/{scene.club.pk}")
    assert (not_mine.status_code, absent.status_code) == (404, 404)
    assert dict(not_mine.headers) == dict(absent.headers)


def test_whose_check_or_assignment_ended_no_longer_sets_them(scene: Scene, signed_in: SignedIn) -> None:
    CoachAssignment.objects.filter(coach=scene.second_coach).update(last_day="2020-02-01")
    Clearance.objects.filter(coach=scene.coach).update(expires_on="2020-02-01")
    for coach in (scene.coach, scene.second_coach):
        assert signed_in(coach).get(address(scene.group)).status_code == 404


def test_it_is_reached_from_today_and_from_the_session(scene: Scene, signed_in: SignedIn) -> None:
    for who, role in (("coach", "coach"), ("head_coach", "head-coach")):
        assert f'href="{address(scene.group, role)}"' in signed_in(getattr(scene, who)).get("/today").content.decode()
    session = f"/coach/sessions/{scene.training_session.pk}"
    assert f'href="{address(scene.group)}"' in signed_in(scene.coach).get(session).content.decode()
    for page in ("/today", session):
        assert "/groups/" not in signed_in(scene.helper).get(page).content.decode()


@pytest.mark.parametrize("rows", [0, 3, 30])
def test_query_count_does_not_grow(
    scene: Scene, signed_in: SignedIn, rows: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    GroupSettings.objects.create(club=scene.club, group=scene.group)
    for number in range(rows):
        make_feature(scene.club, f"point_{number}", f"Point {number}").groups.add(scene.group)
    client = signed_in(scene.coach)
    with django_assert_num_queries(11):
        given = opened(client, scene.group)
    with CaptureQueriesContext(connection) as written:
        assert client.post(address(scene.group), given | TYPED).status_code == 302
    assert len(written) <= 30
