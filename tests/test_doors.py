"""Every address has its row in the table of doors, and opens for those named there alone."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from sessions.core.iso_week import monday_of
from sessions.models import PatternItem, Phase, Rehearsal, SeasonPlan, TrainingSession
from sessions.selectors.season_documents import season_document
from teamtrack.common.clock import today_in, utc_now
from tests.doors import BY_CODE, DOORS, OF_PERSON, OF_ROLE, OPEN, OWN, WRITTEN
from tests.people import make_session
from tests.planning import make_pattern
from tests.random_club import roles_of

EVERYBODY = (
    "head_coach", "coach", "second_coach", "helper", "other_coach", "admin", "welfare", "athlete", "child",
    "adult_athlete", "guardian", "care_guardian", "stranger", "stranger_athlete",
)  # fmt: skip

OF_A_LOOK = re.compile(r'"(django_session|athletes_(accesslogentry|chainhead|pseudonymkey|signin)\w*)"')
"""Tables of what is kept of a look: the sign-in's sign of life and the access log."""


def patterns(resolver=None):
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            yield from patterns(pattern)
        elif isinstance(pattern, URLPattern) and pattern.name:
            yield pattern


BY_NAME = {pattern.name: pattern for pattern in patterns()}
WITH_ID = sorted(name for name in OF_PERSON if BY_NAME[name].pattern.converters)


def make_season(scene):
    """A season of four weeks from next Monday, a change of it that is tried, and a meet on its first day."""
    monday = monday_of(today_in(scene.club.timezone)) + timedelta(days=7)
    season = SeasonPlan.objects.create(club=scene.club, name="2027", first_monday=monday, weeks=4)
    phase = Phase.objects.create(club=scene.club, season=season, aim="general", first_week=1, last_week=4)
    make_pattern(phase, scene.group, "easy", venue=scene.venue, coaches=(scene.coach,))
    Rehearsal.objects.create(
        club=scene.club, season=season, asked_by=scene.head_coach, asked_at=utc_now(), state="stopped",
        wanted=season_document(season=season) | {"meets": []},
    )  # fmt: skip
    make_session(scene.group, kind="meet", day=monday)


def season_rows(name, scene):
    """The rows on which the addresses of seasons and meets hang, made where they are not there."""
    rows = {"club": scene.club}
    meets = TrainingSession.objects.filter(**rows, kind="meet")
    if not SeasonPlan.objects.filter(**rows).exists() or not meets.exists():
        SeasonPlan.objects.filter(**rows).delete()
        make_season(scene)
    known = {
        "season_id": SeasonPlan.objects.get(**rows).pk,
        "phase_id": Phase.objects.get(**rows).pk,
        "item_id": PatternItem.objects.get(**rows).pk,
        "rehearsal_id": Rehearsal.objects.get(**rows).pk,
    }
    if name.startswith(("meet", "season-meet")):
        known["session_id"] = meets.get().pk
    return known | ({"number": 1} if name == "season-week" else {})


def address(name, scene, *, absent=False):
    week = f"{scene.training_session.starts_at:%G-W%V}"
    known = {
        "session_id": scene.training_session.pk,
        "athlete_id": scene.athlete.pk,
        "person_id": scene.guardian.pk,
        "request_id": scene.data_request.pk,
        "group_id": scene.group.pk,
        "venue_id": scene.venue.pk,
        "coach_id": scene.coach.pk,
        "label": week,
        "week": week,
        "role": "athlete",
        "staff": "admin",
        "planner": "head_coach",
        "opener": "coach",
        "number": 101,
        "revision": 1,
        "factor": 101,
    }
    if name.startswith(("season-", "meet-")) or name == "meet":
        known |= season_rows(name, scene)
    wanted = BY_NAME[name].pattern.converters
    return reverse(name, kwargs={k: uuid4() if absent and k.endswith("_id") else known.get(k, uuid4()) for k in wanted})


def test_every_address_has_a_row_in_the_table():
    assert set(BY_NAME) == OPEN | BY_CODE | OWN | set(DOORS)


@pytest.mark.parametrize("name", sorted(set(DOORS) | OWN))
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_to_the_server_gets_nothing(scene, name, method):
    answer = getattr(Client(), method)(address(name, scene))
    if name.startswith("api-"):
        assert answer.status_code in (401, 405)
    else:
        assert (answer.status_code, answer["Location"].split("?")[0]) == (302, "/sign-in")


@pytest.mark.parametrize("name", sorted(OF_ROLE))
def test_a_door_of_a_role_opens_for_the_role_alone(scene, signed_in, name):
    for who in EVERYBODY:
        person = getattr(scene, who)
        answer = signed_in(person).get(address(name, scene), follow=True)
        expected = 200 if OF_ROLE[name] & set(roles_of(person)) else 404
        assert answer.status_code == expected, who


@pytest.mark.parametrize("name", sorted(OF_PERSON))
def test_a_door_opens_for_those_named_alone(scene, signed_in, name):
    answers = {who: signed_in(getattr(scene, who)).get(address(name, scene)).status_code for who in EVERYBODY}
    assert {who for who, status in answers.items() if status == 200} == OF_PERSON[name], answers
    assert set(answers.values()) <= {200, 404}


@pytest.mark.parametrize("name", sorted(WRITTEN))
def test_a_door_that_is_written_to_is_shut_to_all_others(scene, signed_in, name):
    for who in EVERYBODY:
        browser = signed_in(getattr(scene, who))
        here, absent = (
            browser.post(address(name, scene, absent=absent), content_type="application/json", data="{}")
            for absent in (False, True)
        )
        if who in WRITTEN[name]:
            assert here.status_code != 404, who
        else:
            assert here.status_code in (400, 404), who
            assert (here.status_code, dict(here.headers)) == (absent.status_code, dict(absent.headers)), who
            assert without_token(here) == without_token(absent), who


def test_nothing_is_written_by_looking_at_an_address_that_writes(scene, signed_in):
    """What an access log or a sign-in keeps of a look aside."""
    browsers = {who: signed_in(getattr(scene, who)) for who in EVERYBODY}
    for name in sorted(WRITTEN):
        for who in sorted(WRITTEN[name])[:1] or ["head_coach"]:
            place = address(name, scene)
            with CaptureQueriesContext(connection) as made:
                browsers[who].get(place)
            told = [one["sql"] for one in made if one["sql"].startswith(("INSERT", "UPDATE", "DELETE"))]
            assert [sql for sql in told if not OF_A_LOOK.search(sql)] == [], name


@pytest.mark.parametrize("name", WITH_ID)
def test_not_yours_looks_like_absent(scene, signed_in, name):
    for who in EVERYBODY:
        if who not in OF_PERSON[name]:
            browser = signed_in(getattr(scene, who))
            not_yours, absent = browser.get(address(name, scene)), browser.get(address(name, scene, absent=True))
            assert (not_yours.status_code, absent.status_code) == (404, 404)
            assert without_token(not_yours) == without_token(absent), who
            assert dict(not_yours.headers) == dict(absent.headers)


def without_token(answer):
    """The body but for what is signed anew in each answer: the form's token, and what a form showed."""
    return re.sub(rb'(csrfmiddlewaretoken" value=|name="shown" value=|X-CSRFToken": ?)"[^"]+', b"", answer.content)
