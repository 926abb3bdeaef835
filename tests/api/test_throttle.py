"""Limits on requests to the API: per person, over processes, answered with the time to wait; nobody else is held up."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from athletes.api import throttled
from athletes.core.tries import REQUESTS, REQUESTS_A_BLOCK
from athletes.models import Tries
from athletes.services.throttle import Throttle, TooFast
from teamtrack.common.clock import utc_now

pytestmark = pytest.mark.django_db
MOST = REQUESTS.most * REQUESTS_A_BLOCK


@pytest.fixture
def process(monkeypatch):
    """A process that has just begun, to be replaced by another that knows nothing of it."""

    def begin():
        made = Throttle()
        monkeypatch.setattr(throttled, "throttle", made)
        return made

    begin()
    return begin


def taken(process, person, number, *, is_read=False):
    """How many of so many requests a process lets through."""
    for done in range(number):
        try:
            process.count_request(person_id=person.pk, is_read=is_read)
        except TooFast:
            return done
    return number


def test_two_processes_together_let_through_the_limit_and_at_most_a_block_more_each(scene, process):
    one, other = process(), process()
    assert taken(one, scene.coach, MOST // 2) == MOST // 2
    rest = taken(other, scene.coach, MOST)
    assert MOST // 2 <= rest < MOST // 2 + REQUESTS_A_BLOCK
    assert taken(one, scene.coach, MOST) < REQUESTS_A_BLOCK
    assert taken(one, scene.second_coach, REQUESTS_A_BLOCK + 1) == REQUESTS_A_BLOCK + 1
    assert taken(one, scene.coach, 5, is_read=True) == 5, "reads are counted apart"


def test_over_the_limit_the_answer_says_when_to_come_again_and_then_it_goes_on(scene, signed_in, process):
    coach, now = signed_in(scene.coach), utc_now()
    taken(process(), scene.coach, MOST, is_read=True)
    process()
    for _ in range(REQUESTS_A_BLOCK - 1):
        assert coach.get("/api/v1/me").status_code == 200
    for _ in range(2):
        held = coach.get("/api/v1/me")
        assert (held.status_code, held.json()["code"]) == (429, "TOO_MANY")
        assert 0 < int(held["Retry-After"]) <= REQUESTS.delay_s
    assert signed_in(scene.second_coach).get("/api/v1/me").status_code == 200
    Tries.objects.update(failed_at=[now.timestamp() - REQUESTS.within_s])
    process()
    assert coach.get("/api/v1/me").status_code == 200


def test_an_ordinary_request_costs_no_query(scene):
    made = Throttle()
    with CaptureQueriesContext(connection) as asked:
        assert taken(made, scene.coach, REQUESTS_A_BLOCK - 1) == REQUESTS_A_BLOCK - 1
    assert len(asked) == 0
