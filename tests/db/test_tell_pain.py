"""A pain entry is told, without what hurts, to those who may know it, and once."""

import pytest

from athletes.models import Person
from athletes.viewer import viewer_for
from sessions.access import get_part
from sessions.models import Notice
from sessions.services.record_entries import record_entries
from sessions.tasks import tell_pain_once
from teamtrack.common.models import Job
from tests.api.entry_posts import entry
from tests.people import Scene, answer

pytestmark = pytest.mark.django_db


def allow_health(scene: Scene, *coaches: Person) -> None:
    """The grown-up athlete answers alone."""
    scene.athlete = scene.adult_athlete
    answer(scene.athlete, scene.athlete, names=coaches)


def record(scene: Scene, by: Person, **more: object) -> str:
    part = get_part(viewer_for(by), scene.training_session.pk)
    sent = entry("pain", scene.athlete, scene.training_session, **more)
    [taken] = record_entries(part=part, posted=[sent])
    assert taken.id == sent["id"]
    return sent["id"]


def told() -> set[Person]:
    notices = list(Notice.objects.select_related("to", "about"))
    assert {notice.kind for notice in notices} <= {"pain"}
    assert len({notice.to for notice in notices}) == len(notices)
    return {notice.to for notice in notices}


def run_jobs(*, times: int = 1) -> None:
    for job in Job.objects.filter(task="training.tell_pain"):
        for _ in range(times):
            tell_pain_once(str(job.pk))


def test_the_athletes_pain_reaches_the_named_coaches(scene: Scene) -> None:
    allow_health(scene, scene.coach)
    record(scene, scene.athlete)
    assert told() == set()
    run_jobs(times=3)
    assert told() == {scene.coach}
    assert {job.state for job in Job.objects.all()} == {"done"}


def test_who_wrote_it_is_not_told(scene: Scene) -> None:
    allow_health(scene, scene.coach, scene.second_coach)
    record(scene, scene.coach)
    run_jobs()
    assert told() == {scene.second_coach}


def test_a_guardian_who_may_read_it_is_told(scene: Scene) -> None:
    answer(scene.child, scene.guardian, names=(scene.coach,))
    scene.athlete = scene.child
    record(scene, scene.coach)
    run_jobs()
    assert told() == {scene.guardian}


def test_nobody_is_told_once_the_permission_is_withdrawn(scene: Scene) -> None:
    allow_health(scene, scene.coach, scene.second_coach)
    record(scene, scene.coach)
    answer(scene.athlete, scene.athlete, word="withdrawn")
    run_jobs()
    assert told() == set()


def test_what_was_withdrawn_meanwhile_is_told_to_nobody(scene: Scene) -> None:
    allow_health(scene, scene.coach, scene.second_coach)
    first = record(scene, scene.coach)
    record(scene, scene.coach, replaces=first, withdrawn=True)
    assert Job.objects.count() == 1
    run_jobs()
    assert told() == set()
