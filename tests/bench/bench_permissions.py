"""Measures the decision: one answer of the pure function, and a page of 200 athletes that asks once in bulk.

Run it by `python -m tests.bench.bench_permissions`.
"""

import statistics
import time
from collections.abc import Iterable
from uuid import UUID

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext, setup_databases, teardown_databases

import tests.bench.with_django  # noqa: F401
from athletes.access import athletes_and_answers
from athletes.circumstances.relations import candidates_of
from athletes.core.permissions import decide
from athletes.core.permissions.reading import read_facts
from athletes.models import Person
from athletes.selectors import roster
from athletes.viewer import Viewer, viewer_for
from sessions.selectors import athlete_list
from tests.core.permissions.product import SLICES
from tests.people import Scene, answer, make_athlete, make_scene

ROWS, ROUNDS = 20_000, 30
ASKED = ("record", "availability", "feedback", "health")


def main() -> None:
    """Print the figures."""
    one_decision()
    databases = setup_databases(verbosity=0, interactive=False)
    try:
        scene = make_scene()
        for size in (20, 200):
            a_page(scene, size)
        whole_pages(scene)
    finally:
        teardown_databases(databases, verbosity=0)


def one_decision() -> None:
    for part in SLICES:
        if part.act == "use":
            facts = [read_facts(row) for row, _ in zip(part.rows(), range(ROWS), strict=False)]
            start = time.perf_counter()
            for one in facts:
                decide(one)
            print(f"{part.name}: a decision {(time.perf_counter() - start) / len(facts) * 1e6:.1f} µs")


def a_page(scene: Scene, size: int) -> None:
    missing = size - Person.objects.filter(memberships__isnull=False, club=scene.club).count()
    for number in range(missing):
        athlete = make_athlete(scene.club, f"Many{number}", scene.group, age=21, account=False)
        answer(athlete, athlete, names=(scene.coach,))
    viewer = viewer_for(scene.coach, "coach")

    def plain() -> None:
        rows = Person.objects.filter(candidates_of(viewer), club=viewer.club_id).distinct()
        list(rows.order_by("family_name", "given_name", "id"))

    def asking() -> None:
        athletes, answers = athletes_and_answers(viewer, ASKED)
        for athlete in athletes:
            for purpose in ASKED:
                answers.may(athlete.pk, purpose)

    with CaptureQueriesContext(
        connection,
    ) as queries:
        asking()
    times = {work: statistics.median(_seconds(work) for _ in range(ROUNDS)) * 1e3 for work in (plain, asking)}
    print(f"{connection.vendor}: {size} athletes: rows alone {times[plain]:.1f} ms", end="")
    print(f", with four purposes asked {times[asking]:.1f} ms, {len(queries)} queries", flush=True)


class EverythingAllowed:
    """In place of the decision's answers: yes to all, so that nothing is read or worked out for them."""

    def __init__(self, athletes: Iterable[Person]) -> None:
        self.found = self
        self.athletes = {athlete.pk: athlete for athlete in athletes}

    def may(self, _athlete_id: UUID, _purpose: str) -> bool:
        return True

    def allowed_ids(self, _purpose: str) -> set[UUID]:
        return set(self.athletes)


def unasked(viewer: Viewer, _purposes: object) -> tuple[list[Person], EverythingAllowed]:
    """The same rows as `athletes_and_answers`, without asking."""
    rows = Person.objects.filter(candidates_of(viewer), club=viewer.club_id).distinct()
    people = list(rows.order_by("family_name", "given_name", "id"))
    return people, EverythingAllowed(people)


def whole_pages(scene: Scene) -> None:
    """Two pages of all athletes, as they are and without permissions: the same rows, the same template."""
    for name, person, address, module, function, without in (
        ("coach's athletes", scene.coach, "/coach/athletes", athlete_list, "athletes_and_answers", unasked),
        (
            "roster",
            scene.admin,
            "/admin/roster",
            roster,
            "known_to",
            lambda _viewer, people: list(people),
        ),
    ):
        browser = Client(SERVER_NAME="localhost")
        browser.force_login(person.account)
        asking = getattr(module, function)
        seconds: dict[bool, list[float]] = {True: [], False: []}
        for turn in range(2 * ROUNDS + 4):
            is_asking = turn % 2 == 0
            setattr(module, function, asking if is_asking else without)
            start = time.perf_counter()
            answered = browser.get(address)
            if turn >= 4:
                seconds[is_asking].append(time.perf_counter() - start)
            assert answered.status_code == 200
        setattr(module, function, asking)
        whole, bare = (statistics.median(seconds[one]) * 1e3 for one in (True, False))
        people = answered.content.decode().count("Tester")
        print(f"{connection.vendor}: {name}, {people} names: {whole:.1f} ms", end="")
        print(f", without permissions {bare:.1f} ms = {whole / bare:.2f} x", flush=True)


def _seconds(work: object) -> float:
    start = time.perf_counter()
    work()  # type: ignore[operator]
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
