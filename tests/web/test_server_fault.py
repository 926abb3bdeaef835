"""What breaks, wherever it breaks, is told in the shape that the asker reads: a page, or the API's JSON."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.conf import settings
from django.db import InterfaceError, OperationalError, connection
from django.test import Client

from tests.people import Scene

API = "/api/v1/weeks"


@pytest.fixture
def client(scene: Scene) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(scene.coach.account)
    return client


@contextmanager
def broken_by(fault: Exception) -> Iterator[None]:
    def away(execute: Any, *args: Any) -> Any:
        raise fault

    with connection.execute_wrapper(away):
        yield


@pytest.mark.parametrize("fault", [OperationalError("too many clients"), InterfaceError("connection is closed")])
def test_a_page_is_busy_while_the_database_is_away(client: Client, fault: Exception) -> None:
    with broken_by(fault):
        response = client.get("/today")
    assert (response.status_code, response["Retry-After"]) == (503, "2")
    assert "The server is busy for a moment" in response.content.decode()


def test_a_fault_of_the_server_is_a_page_or_json(client: Client) -> None:
    with broken_by(RuntimeError("a fault of ours")):
        page, answer = client.get("/today"), client.get(API)
    assert (page.status_code, answer.status_code) == (500, 500)
    assert "Something broke on the server" in page.content.decode()
    assert answer.json()["code"] == "FAULT"
    assert "a fault of ours" not in page.content.decode() + answer.content.decode()


def test_a_fault_looks_nobody_up_and_is_kept_by_no_cache(client: Client) -> None:
    with broken_by(OperationalError("away")):
        response = client.get("/today")
    assert response["Cache-Control"] == "no-store"
    assert settings.SESSION_COOKIE_NAME not in response.cookies
