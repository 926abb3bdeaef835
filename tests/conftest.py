"""Fixtures shared by all tests."""

import gc
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import partial

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, settings
from pytest_django import DjangoDbBlocker

from athletes.models import Person
from athletes.viewer import Viewer, viewer_for
from tests.people import Scene, make_scene

# Much is made and kept while tests run: looking through all of it for what can go takes a share of every test.
gc.set_threshold(50_000, 20, 100)

# Time decides nothing here: a machine may be slow, or busy with other work.
settings.register_profile("product", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("product")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A real browser on a busy machine: what fails there is run once more, counted and shown as a rerun."""
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.flaky(reruns=1))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for report in terminalreporter.stats.get("rerun", []):
        terminalreporter.section(f"failed and was run once more: {report.nodeid}")
        terminalreporter.write_line(report.longreprtext[-6000:])


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """The test database, from which whoever still holds a connection at the end is put out (threads of servers)."""
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


@pytest.fixture
def scene(db: None) -> Scene:
    return make_scene()


@pytest.fixture
def signed_in(db: None) -> Callable[[Person], Client]:
    """A browser signed in as a person."""

    def sign_in(person: Person, **options: object) -> Client:
        client = Client(**options)
        client.force_login(person.account)
        return client

    return sign_in


@pytest.fixture
def as_role() -> Callable[[Person, str], Viewer]:
    return viewer_for


@contextmanager
def _counted(number: int, *, exact: bool) -> Iterator[CaptureQueriesContext]:
    """Fails where other than `number` queries are made; what opens guarded rows on PostgreSQL is none."""
    with CaptureQueriesContext(connection) as captured:
        yield captured
    made = [query["sql"] for query in captured.captured_queries if "teamtrack.people" not in query["sql"]]
    assert len(made) == number if exact else len(made) <= number, "\n".join(made)


@pytest.fixture
def django_assert_num_queries() -> Callable[[int], AbstractContextManager[CaptureQueriesContext]]:
    return partial(_counted, exact=True)


@pytest.fixture
def django_assert_max_num_queries() -> Callable[[int], AbstractContextManager[CaptureQueriesContext]]:
    return partial(_counted, exact=False)
