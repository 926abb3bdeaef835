"""Rows visible to a viewer are exactly the rows that the decision allows, on random clubs."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from athletes.access import answers_for, athletes_visible_to
from athletes.core.permissions import decide
from athletes.viewer import viewer_for
from teamtrack.common.errors import NotFound
from tests.random_club import PURPOSES, VIEW_PURPOSES, facts_one_by_one, make_random_club, roles_of
from tests.sizes import examples

pytestmark = pytest.mark.django_db

many_clubs = settings(
    max_examples=examples(200, one_in=25),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def viewers(people):
    for person in people:
        for role in roles_of(person):
            try:
                yield viewer_for(person, role)
            except NotFound:
                continue


def allowed(viewer, athlete, purpose):
    as_guardian = viewer.role == "guardian" and purpose != "feed"
    act = "view_as_guardian" if as_guardian else "use"
    related = {
        "athlete": athlete.pk == viewer.person_id,
        "guardian": athlete.guarded_by.filter(guardian=viewer.person_id).exists(),
    }.get(viewer.role, True)
    return related and decide(facts_one_by_one(viewer, athlete, purpose, act)).may


@many_clubs
@given(seed=st.integers(0, 10**9))
def test_whom_a_viewer_may_see(db, seed):
    _club, athletes, people = make_random_club(seed)
    for viewer in viewers(people):
        purposes = VIEW_PURPOSES if viewer.role == "guardian" else PURPOSES
        for purpose in purposes:
            seen = {athlete.pk for athlete in athletes_visible_to(viewer, purpose)}
            expected = {athlete.pk for athlete in athletes if allowed(viewer, athlete, purpose)}
            assert seen == expected, (viewer.role, purpose)


@many_clubs
@given(seed=st.integers(0, 10**9))
def test_facts_read_for_many_are_those_read_one_by_one(db, seed):
    _club, athletes, people = make_random_club(seed)
    for viewer in viewers(people):
        purposes = ("record", "feedback", "health", "share", "feed") if viewer.role != "guardian" else ("feed",)
        answers = answers_for(viewer=viewer, athletes=athletes, purposes=purposes)
        for athlete in athletes:
            for purpose in purposes:
                fast = answers.answer(athlete.pk, purpose)
                assert fast == decide(facts_one_by_one(viewer, athlete, purpose)), (viewer.role, purpose)
