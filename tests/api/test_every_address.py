"""Every address of the API as its document describes it, asked by every role with right, wrong and foreign values, one
by one and along the document's links: no server error, no answer that is not described, what is wrong is refused, and
nobody else's rows."""

import json
import random

import pytest
import requests
import schemathesis
from django.db import transaction
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from rest_framework.views import APIView
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from sessions.models import Proposal
from sessions.services.make_week import make_week
from sessions.services.propose_week import propose_week
from tests.entries import tell
from tests.people import make_session
from tests.planning import make_plan_scene
from tests.sizes import examples

pytestmark = pytest.mark.django_db
CHECKED = [
    not_a_server_error, status_code_conformance, content_type_conformance, response_headers_conformance,
    response_schema_conformance, negative_data_rejection,
]  # fmt: skip
ROLES = ("coach", "head_coach", "athlete", "guardian", "admin", "welfare", "stranger")
SECRET = "copper fern over water"
ONE_BY_ONE, ALONG_LINKS, STEPS = 8_400, 1_600, 20
"""Cases a role on demand, and steps of a scenario; the ordinary run asks a twentieth: 500 cases a role."""

SCHEMA = schemathesis.openapi.from_dict(json.loads(json.dumps(SchemaGenerator().get_schema(request=None, public=True))))
SCHEMA.config.generation.update(with_security_parameters=False)  # the browser's session is the tests' own
OPERATIONS = [one.ok() for one in SCHEMA.get_all_operations()]
TAKING = [one for one in OPERATIONS if one.path_parameters or one.query or one.body]
MODES = st.sampled_from([GenerationMode.POSITIVE, GenerationMode.POSITIVE, GenerationMode.NEGATIVE])


@pytest.fixture(autouse=True)
def no_limit(monkeypatch):
    """So many requests in a minute are nobody's ordinary use."""
    monkeypatch.setattr(APIView, "throttle_classes", [])


@pytest.fixture
def plan(db):
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    propose_week(viewer=made.viewer, monday=made.monday)
    scene = made.scene
    tell(scene.training_session, scene.adult_athlete, scene.coach, 1, SECRET, "tall_hips")
    make_session(scene.stranger_athlete.group_memberships.get().group, athletes=(scene.stranger_athlete,))
    return made


@pytest.fixture
def known(plan):
    """Ids that exist, of the club and of another, by the name under which an address takes them."""
    scene = plan.scene
    athletes = [str(one.pk) for one in (scene.athlete, scene.child, scene.adult_athlete, scene.stranger_athlete)]
    far = scene.stranger_athlete.session_athletes.get().training_session_id
    sessions = [str(scene.training_session.pk), str(far)]
    return {
        "session_id": sessions, "session": sessions, "label": [f"{plan.monday:%G-W%V}", "2027-W54"],
        "athlete_id": athletes, "athlete": athletes, "proposal_id": [str(Proposal.objects.get().pk)],
        "cursor": [str(scene.training_session.pk)], "revision": [0, 1],
    }  # fmt: skip


class Asker:
    """Somebody signed in who sends cases, in their own role, and looks into each answer for what is not theirs."""

    def __init__(self, scene, role, signed_in):
        self.role, self.person = "coach" if role == "stranger" else role, getattr(scene, role)
        self.sign_in = lambda: signed_in(self.person, raise_request_exception=False)
        self.browser, self.foreign = self.sign_in(), foreign_to(scene, role)

    def ask(self, case):
        """The answer to a case, checked."""
        for part, own in ((case.query, self.role), (case.body, str(self.person.pk))):
            if isinstance(part, dict) and "as" in part:
                part["as"] = own
        response = self.answer_to(case)
        if case.path.endswith("/sign-out"):
            self.browser = self.sign_in()
        case.validate_response(response, checks=CHECKED)
        told = [one for one in self.foreign if one in response.text]
        assert not told, f"{case.operation.label} tells {self.role} of {told}"
        return response

    def answer_to(self, case):
        """A case sent by the test's own client, its answer as the checks take it."""
        sent = requests.Request(**case.as_transport_kwargs(base_url="http://testserver")).prepare()
        kind = sent.headers.get("Content-Type", "")
        got = self.browser.generic(case.method, sent.path_url, sent.body or b"", content_type=kind)
        headers = {name: [value] for name, value in got.headers.items()}
        return schemathesis.Response(got.status_code, headers, got.content, sent, 0.0, verify=True, encoding="utf-8")


def foreign_to(scene, role):
    """Ids and names that must be in no answer to somebody of that role."""
    theirs = [scene.stranger_club.name, *of_people(scene.stranger, scene.stranger_athlete)]
    own = [scene.club.name, *map(str, (scene.group.pk, scene.training_session.pk, scene.venue.pk))]
    people = of_people(scene.athlete, scene.child, scene.coach, scene.head_coach, scene.guardian)
    others = [SECRET, str(scene.adult_athlete.pk)]
    nobodys = [str(scene.training_session.pk), str(scene.athlete.pk), str(scene.child.pk)]
    return {
        "coach": theirs, "head_coach": theirs, "athlete": theirs + others, "guardian": theirs + others,
        "admin": theirs + others + nobodys, "welfare": theirs + others + nobodys, "stranger": own + people + others,
    }[role]  # fmt: skip


def of_people(*people):
    return [str(one) for person in people for one in (person.pk, person.given_name)]


@st.composite
def cases(draw, operation, known):
    """A right or a wrong case, most of the time with ids that exist, of one's own or of others."""
    case = draw(operation.as_strategy(generation_mode=draw(MODES)))
    put_in(case, known, draw(st.randoms()))
    return case


def put_in(case, known, random):
    """Most of the time an id that exists in the place of one by chance."""
    sent = case.body.get("entries") if isinstance(case.body, dict) else None
    for part in (case.path_parameters, case.query, case.body, *(sent if isinstance(sent, list) else ())):
        for key in known if isinstance(part, dict) else ():
            if key in part and random.random() < 0.9:
                part[key] = random.choice(known[key])


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.label)
def test_every_answer_is_described_and_tells_nothing_of_others(plan, known, signed_in, operation):
    askers = [Asker(plan.scene, role, signed_in) for role in ROLES]

    @settings(
        max_examples=examples(ONE_BY_ONE // len(TAKING), one_in=20) if operation in TAKING else 4,
        phases=[Phase.generate], database=None, suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(case=cases(operation, known))
    def ask(case):
        for asker in askers:
            asker.ask(case)

    ask()


@pytest.fixture(scope="module")
def links():
    """The ways along the document's links, as a machine of steps."""
    return SCHEMA.exclude(path_regex="/sign-").as_state_machine()


@pytest.mark.parametrize("role", ROLES)
def test_nor_does_any_way_along_the_links(plan, known, links, signed_in, role):
    """Whatever the one is led to, somebody of another club asks for too."""
    asker = Asker(plan.scene, role, signed_in)
    other = Asker(plan.scene, "coach" if role == "stranger" else "stranger", signed_in)

    class Way(links):
        """One scenario: what it wrote is undone at its end."""

        def setup(self):
            self.undone = transaction.atomic()
            self.undone.__enter__()

        def teardown(self):
            transaction.set_rollback(True)
            self.undone.__exit__(None, None, None)
            super().teardown()

        def step(self, input):
            if not input.is_applied:
                put_in(input.case, known, random)
            return super().step(input)

        def call(self, case, **_):
            other.ask(case)
            return asker.ask(case)

        def validate_response(self, response, case, **_):
            """`ask` has done it."""

    Way.run(
        settings=settings(
            max_examples=examples(ALONG_LINKS // STEPS, one_in=20), phases=[Phase.generate], database=None,
            stateful_step_count=STEPS, suppress_health_check=list(HealthCheck), deadline=None,
        )
    )  # fmt: skip
