"""The browser killed after a tap and opened again without signal: what was said to be saved is there."""

import os
import shutil
import signal
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, expect

from sessions.models import Focus
from teamtrack.common.clock import today_in
from tests.browser.conftest import ARGS, PHONE, AtWork
from tests.browser.test_offline import CONTROLLED, KEPT, begin, held, results, sent, waiting
from tests.people import Scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def browser_on(chromium: Browser, profile: Path) -> BrowserContext:
    return chromium.browser_type.launch_persistent_context(
        profile, executable_path=shutil.which("chromium"), args=ARGS, **PHONE
    )


def kill_browser(profile: Path) -> None:
    """The main process of the browser that has this profile."""
    for process in Path("/proc").glob("[0-9]*"):
        try:
            words = (process / "cmdline").read_bytes().decode().split("\0")
        except OSError:
            continue
        if f"--user-data-dir={profile}" in words and not any(word.startswith("--type=") for word in words):
            os.kill(int(process.name), signal.SIGKILL)


def test_a_killed_browser_opens_with_all_that_was_saved(
    live_scene: Scene, chromium: Browser, live_server: object, tmp_path: Path, at_work: AtWork
) -> None:
    day = today_in(live_scene.club.timezone)
    for athlete in (live_scene.athlete, live_scene.child, live_scene.adult_athlete):
        Focus.objects.create(
            club=live_scene.club, athlete=athlete, feature=live_scene.feature, since=day, set_by=live_scene.coach
        )
    origin = live_server.url.replace("127.0.0.1", "localhost")  # type: ignore[attr-defined]
    address = f"{origin}/coach/sessions/{live_scene.training_session.pk}"
    client = Client()
    client.force_login(live_scene.coach.account)
    value = client.cookies[settings.SESSION_COOKIE_NAME].value
    cookie = {"name": settings.SESSION_COOKIE_NAME, "value": value, "url": origin}
    context = browser_on(chromium, tmp_path)
    context.add_cookies([cookie])
    page = context.new_page()
    page.goto(address)
    page.evaluate(CONTROLLED)
    assert page.evaluate(KEPT)
    begin(page)
    sent(page)
    context.set_offline(True)
    held(page)
    waiting(page, 1)
    kill_browser(tmp_path)
    again = browser_on(chromium, tmp_path)
    again.add_cookies([cookie])
    again.set_offline(True)
    page = again.new_page()
    page.goto(address)
    waiting(page, 1)
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    again.set_offline(False)
    expect(page.locator("[data-signal-count]")).to_be_empty()
    assert len(results(live_scene)) == 1
    again.close()
    at_work.wait()
