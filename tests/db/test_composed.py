"""A composed query finds what the same query finds when it is composed anew, with the same questions."""

from typing import Any

from athletes.models import Account, Person
from athletes.viewer import viewer_for
from sessions.access import get_part
from sessions.models import Demand, SessionCoach
from sessions.selectors.week_draft import demands_of, draft_places
from sessions.services.make_week import make_week
from teamtrack.common.composed import Composed, ComposedValues, Given
from tests.people import Scene, make_session
from tests.planning import make_plan_scene, place

ACCOUNT = Composed(
    lambda: Account.objects.select_related("person__club").filter(
        username=Given("name", Account._meta.get_field("username"))
    )
)
LED = Composed(
    lambda: (
        SessionCoach.objects.select_related("training_session__venue")
        .filter(coach=Given("coach", Person._meta.pk))
        .order_by("training_session__starts_at", "pk")
    )
)


def test_the_same_instance_with_its_relations(scene: Scene, django_assert_num_queries: Any) -> None:
    for person in (scene.coach, scene.guardian, scene.stranger):
        with django_assert_num_queries(1):
            found = ACCOUNT.first(name=person.account.username)
            assert found is not None
            assert (found.person.given_name, found.person.club.timezone) == (person.given_name, person.club.timezone)
        expected = Account.objects.get(pk=person.account.pk)
        assert {key: value for key, value in vars(found).items() if key != "_state"} == {
            key: value for key, value in vars(expected).items() if key != "_state"
        }


def test_nothing_is_found_for_nobody(scene: Scene) -> None:
    assert ACCOUNT.first(name="nobody") is None
    assert ACCOUNT.rows(name="x' OR '1' = '1") == []


def test_a_relation_that_is_null_and_rows_changed_between_calls(scene: Scene) -> None:
    assert [one.training_session.venue for one in LED.rows(coach=scene.coach.pk)] == [scene.venue]
    later = make_session(scene.group, coaches=(scene.coach,))
    assert {one.training_session for one in LED.rows(coach=scene.coach.pk)} == {scene.training_session, later}
    assert {one.training_session.venue for one in LED.rows(coach=scene.coach.pk)} == {scene.venue, None}


def test_the_part_in_a_session_follows_the_rows(scene: Scene) -> None:
    viewer = viewer_for(scene.coach)
    assert get_part(viewer, scene.training_session.pk).may_read
    SessionCoach.objects.filter(coach=scene.coach).update(taken_off_at=scene.training_session.starts_at)
    assert not get_part(viewer, scene.training_session.pk).may_read


def test_values_of_joined_queries_are_those_of_the_queries(scene: Scene) -> None:
    def both(coach: Any) -> Any:
        rows = SessionCoach.objects.filter(coach=coach)
        starts = rows.values_list("pk", "training_session__starts_at", "training_session__also")
        ends = rows.values_list("pk", "training_session__ends_at", "training_session__also")
        return starts.union(ends, all=True)

    composed = ComposedValues(lambda: both(Given("coach", Person._meta.pk)))
    for person in (scene.coach, scene.second_coach, scene.stranger):
        assert sorted(composed.rows(coach=person.pk)) == sorted(both(person.pk))
    assert len(composed.rows(coach=scene.coach.pk)) == 2


def test_a_week_has_its_own_demands_places_and_coaches(db: None, django_assert_num_queries: Any) -> None:
    plan = make_plan_scene()
    make_week(viewer=plan.viewer, monday=plan.monday)
    week, hard, away = plan.week, plan.demand("hard"), plan.scene.athlete
    place(hard, plan.at(1, 18), plan.scene.coach).away.add(away)
    with django_assert_num_queries(3):
        found = demands_of(week)
        coaches = {one.pk: {coach.full_name for coach in one.coaches.all()} for one in found}
        places = draft_places(found)
    assert [one.pk for one in found] == list(plan.week.demands.values_list("pk", flat=True))
    assert coaches == {one.pk: {coach.full_name for coach in one.coaches.all()} for one in Demand.objects.all()}
    assert list(places) == [str(hard.pk)]
    only = places[str(hard.pk)]
    assert (only.coaches, only.away, only.excused) == ((str(plan.scene.coach.pk),), {str(away.pk)}, frozenset())
