"""A real Chromium for the browser tests: phones and desks, signed in, every fault of a page counted."""

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator

import pytest
from django.conf import settings
from django.core.signals import request_finished, request_started
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from athletes.models import Person
from tests.people import Scene, make_scene

os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True}
SMALL = {"viewport": {"width": 320, "height": 640}, "is_mobile": True, "has_touch": True}
DESK = {"viewport": {"width": 1280, "height": 800}}

OpenPage = Callable[..., Page]

WITHIN_S = 40  # what is waited for; time decides nothing where a machine is slow or busy
expect.set_options(timeout=WITHIN_S * 1000)


def once(holds: Callable[[], object], wait: Callable[[float], None] = time.sleep, step: float = 0.05) -> bool:
    """Whether `holds` came true in time. With a page at work it is waited for with `page.wait_for_timeout`."""
    give_up = time.monotonic() + WITHIN_S
    while not holds():
        if time.monotonic() > give_up:
            return False
        wait(step)
    return True


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("Chromium is not on this machine (Debian: apt-get install chromium)")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGS)
        yield browser
        browser.close()


@pytest.fixture
def live_scene(transactional_db: None) -> Scene:
    return make_scene()


class AtWork:
    """How many requests the live server is answering: rows are flushed only when the last one is done."""

    def __init__(self) -> None:
        self.count = 0
        self.lock = threading.Lock()

    def begins(self, **_signal: object) -> None:
        with self.lock:
            self.count += 1

    def ends(self, **_signal: object) -> None:
        with self.lock:
            self.count -= 1

    def wait(self, seconds: float = 60) -> None:
        """Until nothing has been at work for a tenth of a second (a request may lie accepted and not yet begun)."""
        quiet, give_up = time.monotonic(), time.monotonic() + seconds
        while time.monotonic() - quiet < 0.1:
            if self.count > 0:
                quiet = time.monotonic()
            assert time.monotonic() < give_up, f"{self.count} requests were still at work after {seconds} s"
            time.sleep(0.01)


@pytest.fixture
def at_work() -> Iterator[AtWork]:
    counted = AtWork()
    request_started.connect(counted.begins)
    request_finished.connect(counted.ends)
    yield counted
    request_started.disconnect(counted.begins)
    request_finished.disconnect(counted.ends)


@pytest.fixture
def open_page(chromium: Browser, live_server, at_work: AtWork) -> Iterator[OpenPage]:  # type: ignore[no-untyped-def]
    """`open_page(person, "/today", PHONE)`: a page in a browser of its own; faults on it fail the test at its end.

    A person None is a stranger. What a test expects to fail (an aborted request) it puts into `page.expected`.
    """
    contexts: list[BrowserContext] = []
    pages: list[Page] = []

    def opened(person: Person | None, path: str, screen: dict[str, object] = PHONE) -> Page:
        address = live_server.url.replace("127.0.0.1", "localhost")
        context = chromium.new_context(base_url=address, **screen)
        contexts.append(context)
        if person is not None:
            context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": _signed_in(person), "url": address}])
        page = context.new_page()
        page.faults, page.expected = [], []
        page.on("console", lambda line: page.faults.append(line.text) if line.type == "error" else None)
        page.on("pageerror", lambda error: page.faults.append(str(error)))
        pages.append(page)
        page.goto(path)
        return page

    yield opened
    faults = [fault for page in pages for fault in page.faults if not any(words in fault for words in page.expected)]
    for context in contexts:
        context.close()
    at_work.wait()
    assert faults == []


def _signed_in(person: Person) -> str:
    client = Client()
    client.force_login(person.account)
    return client.cookies[settings.SESSION_COOKIE_NAME].value
