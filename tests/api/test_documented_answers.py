"""Every answer that the OpenAPI document promises is really given by the address of which it is promised; that no other
is given, the cases of `test_every_address` ask."""

import json

import pytest
from django.db import connection
from django.test import Client
from drf_spectacular.generators import SchemaGenerator

from athletes.api.throttled import throttle
from athletes.core.tries import PASSWORD_ELSEWHERE as TRIES
from athletes.core.tries import REQUESTS, REQUESTS_A_BLOCK, SECOND_CODE
from athletes.models import Club, Tries
from athletes.services.throttle import TooFast
from athletes.services.tries import key_of
from sessions.core.entries.posted import MOST_ENTRIES
from sessions.models import Proposal
from sessions.services.make_week import make_week
from sessions.services.propose_week import propose_week
from teamtrack.common.clock import today_in, utc_now
from tests.api.entry_posts import away_after, entry
from tests.api.test_weeks import ask
from tests.people import PASSWORD, make_person
from tests.planning import make_plan_scene
from tests.web.test_second_factor import set_up_app, sign_in

pytestmark = pytest.mark.django_db
JSON = "application/json"
SIGN_IN, SECOND = "sign_in_create", "sign_in_second_create"
HEAD_COACHS, ATHLETES = ("weeks", "proposals"), ("athletes_permissions", "sessions_availability_create")


def operations():
    document = SchemaGenerator().get_schema(request=None, public=True)
    for path, methods in document["paths"].items():
        for method, one in methods.items():
            yield one["operationId"], (method.upper(), path, {int(status) for status in one["responses"]})


OPERATIONS = dict(operations())


@pytest.fixture
def plan(db):
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    propose_week(viewer=made.viewer, monday=made.monday)
    return made


@pytest.fixture
def send(plan, signed_in):
    """Sends an operation's request, with ids that exist, as somebody who may unless said otherwise; its status."""
    scene = plan.scene
    known = {
        "session_id": scene.training_session.pk, "athlete_id": scene.athlete.pk, "label": f"{plan.monday:%G-W%V}",
        "proposal_id": Proposal.objects.get().pk,
    }  # fmt: skip
    usual = {person: signed_in(person) for person in (scene.head_coach, scene.coach, scene.athlete)}

    def sent(name, body=None, *, browser=None, query="", kind=JSON, **headers):
        method, path, _told = OPERATIONS[name]
        who = scene.head_coach if name.startswith(HEAD_COACHS) else scene.coach
        who = scene.athlete if name.startswith(ATHLETES) else who
        content = b"" if body is None else json.dumps(body).encode()
        client = browser or usual[who]
        return client.generic(method, path.format(**known) + query, content, kind, headers=headers).status_code

    return sent


def promising(status, *without):
    told = [name for name, (_method, _path, statuses) in OPERATIONS.items() if status in statuses]
    assert told and set(without) <= set(told)
    return [name for name in told if name not in without]


def words(account, password=PASSWORD):
    return {"username": account.username, "password": password}


def test_400_for_an_unknown_or_repeated_key_in_any_address(send):
    assert set(promising(400)) == set(OPERATIONS)
    for query in ("?elsewhere=1", "?format=json", "?lang=en", "?as=coach&as=coach"):
        assert {name: send(name, query=query) for name in OPERATIONS} == dict.fromkeys(OPERATIONS, 400), query


def test_400_for_an_unknown_key_in_any_body(send):
    writing = promising(415)
    assert {name: send(name, {"elsewhere": 1}) for name in writing} == dict.fromkeys(writing, 400)


def test_401_without_a_sign_in(plan, send, signed_in):
    set_up_app(signed_in(plan.scene.coach))
    assert send(SIGN_IN, words(plan.scene.coach.account), browser=Client()) == 401
    for name in promising(401, SIGN_IN):
        assert send(name, browser=Client()) == 401, name


def test_403_without_the_token_of_origin_and_where_a_second_factor_is_due(plan, send):
    browser, _done = sign_in(plan.scene.admin.account, Client(enforce_csrf_checks=False))
    Club.objects.update(second_factor_from=today_in(plan.scene.club.timezone))
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(plan.scene.coach.account)
    for name in promising(403):
        method, *_rest = OPERATIONS[name]
        assert send(name, browser=browser if method == "GET" else strict) == 403, name


def test_404_for_who_has_no_role_here(plan, send, signed_in):
    left = make_person(plan.scene.club, "Lene", account=True)
    for name in promising(404):
        assert send(name, browser=signed_in(left)) == 404, name


def test_who_has_no_role_here_is_told_so_when_signing_in(plan, send, signed_in):
    left, browser = make_person(plan.scene.club, "Lene", account=True), Client()
    assert send(SIGN_IN, words(left.account), browser=browser) == 200
    assert browser.get("/api/v1/me").json() == {"person": str(left.pk), "roles": []}
    browser, codes = Client(), set_up_app(signed_in(left))[1]
    assert send(SIGN_IN, words(left.account), browser=browser) == 401
    assert send(SECOND, {"code": codes[0]}, browser=browser) == 200


def test_406_for_who_takes_no_json(send):
    for name in promising(406):
        assert send(name, accept="text/html") == 406, name


def test_409_where_somebody_was_faster_or_it_is_somebody_elses(plan, send):
    bodies = {name: {"revision": 7} for name in ("proposals_accept_create", "weeks_publish_create")}
    bodies["sessions_entries_create"] = {"as": str(plan.scene.athlete.pk), "entries": []}
    assert set(promising(409)) == set(bodies)
    for name, body in bodies.items():
        assert send(name, body) == 409, name


def test_413_for_too_many_entries(plan, send):
    assert promising(413) == ["sessions_entries_create"]
    body = {"as": str(plan.scene.coach.pk), "entries": [{}] * (MOST_ENTRIES + 1)}
    assert send("sessions_entries_create", body) == 413


def test_415_for_what_is_no_json(send):
    for name in promising(415):
        assert send(name, {}, kind="text/plain") == 415, name


def test_429_after_far_too_many_requests_or_wrong_tries(plan, send, signed_in):
    scene = plan.scene
    full = [utc_now().timestamp()] * REQUESTS.most
    for person in (scene.head_coach, scene.coach, scene.athlete):
        for what in ("read", "write"):
            Tries.objects.create(key=key_of(what, str(person.pk)), failed_at=full, last_at=utc_now())
            with pytest.raises(TooFast):
                for _ in range(REQUESTS_A_BLOCK):
                    throttle.count_request(person_id=person.pk, is_read=what == "read")
    for name in promising(429, SIGN_IN, SECOND):
        assert send(name) == 429, name
    wrong = words(scene.guardian.account, "wrong")
    assert [send(SIGN_IN, wrong, browser=Client()) for _ in range(TRIES.most + 1)] == [400] * TRIES.most + [429]
    set_up_app(signed_in(scene.welfare))
    browser = Client()
    assert send(SIGN_IN, words(scene.welfare.account), browser=browser) == 401
    tried = [send(SECOND, {"code": "123456"}, browser=browser) for _ in range(SECOND_CODE.most + 1)]
    assert tried == [400] * SECOND_CODE.most + [429]


def test_503_where_the_database_is_away(plan, send, signed_in):
    browser = signed_in(plan.scene.coach, raise_request_exception=False)
    for name in promising(503):
        with connection.execute_wrapper(away_after(0)):
            assert send(name, {}, browser=browser) == 503, name


def test_every_good_answer(plan, send, signed_in):
    scene = plan.scene
    ask(plan, signed_in(scene.head_coach))
    browser, codes = Client(), set_up_app(signed_in(scene.admin))[1]
    entries = [entry("observation", scene.child, scene.training_session)]
    bodies = {
        SIGN_IN: words(scene.guardian.account), SECOND: {"code": codes[0]},
        "sessions_availability_create": {"athlete": str(scene.athlete.pk), "state": "run"},
        "sessions_entries_create": {"as": str(scene.coach.pk), "entries": entries},
        "athletes_permissions_create": {"purpose": "health", "answer": "no"},
        "proposals_accept_create": {"revision": 1}, "weeks_publish_create": {"revision": 2},
    }  # fmt: skip
    assert send(SIGN_IN, words(scene.admin.account), browser=browser) == 401
    browsers = {SIGN_IN: Client(), SECOND: browser}
    for name in sorted(OPERATIONS, key=lambda name: name == "sign_out_create"):
        (good,) = (status for status in OPERATIONS[name][2] if status < 300)
        assert send(name, bodies.get(name), browser=browsers.get(name)) == good, name
