"""One week lived in the demo club, in real browsers against the real server: planned, published, run, felt, stopped."""

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any
from uuid import uuid4

import psycopg
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import DESK, PHONE
from tests.db.killed_server import free_port

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
UP_WITHIN_S, PLANNED_WITHIN_MS = 300, 240_000
Account = dict[str, Any]
SignIn = Callable[..., Page]


@pytest.fixture(scope="module")
def facts(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Any]]:
    """The demo as README starts it, on a port of its own; on PostgreSQL and Redis where the tests run on them."""
    data, port = tmp_path_factory.mktemp("demo"), free_port()
    with own_database() as environment:
        command = [sys.executable, "manage.py", "demo", "--data", str(data), "--port", str(port)]
        with (data / "log").open("wb") as log:
            demo = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=log, stderr=log, start_new_session=True)
        try:
            wait_until_ready(f"http://127.0.0.1:{port}/readyz", demo, data / "log")
            yield json.loads((data / "facts.json").read_text())
        finally:
            demo.send_signal(signal.SIGINT)
            with suppress(subprocess.TimeoutExpired):
                demo.wait(15)
            with suppress(ProcessLookupError):
                os.killpg(demo.pid, signal.SIGKILL)


class own_database:
    """The environment of a demo with a database of its own beside the tests' one, dropped with its login afterwards."""

    def __enter__(self) -> dict[str, str]:
        kept = {k: v for k, v in os.environ.items() if not k.startswith(("TEAMTRACK_", "DJANGO_", "SECRET_KEY"))}
        self.server, _, name = kept.get("DATABASE_URL", "").rpartition("/")
        self.name = f"{name}_line_{uuid4().hex[:8]}"
        if self.server:
            self._execute(f'CREATE DATABASE "{self.name}"')
            kept["DATABASE_URL"] = f"{self.server}/{self.name}"
        return kept

    def __exit__(self, *_: object) -> None:
        if self.server:
            self._execute(f'DROP DATABASE "{self.name}" WITH (FORCE)')
            self._execute(f'DROP ROLE IF EXISTS "{self.name}_app"')

    def _execute(self, statement: str) -> None:
        with psycopg.connect(f"{self.server}/postgres", autocommit=True) as owner:
            owner.execute(statement)


def wait_until_ready(address: str, demo: "subprocess.Popen[bytes]", log: Path) -> None:
    ends = time.monotonic() + UP_WITHIN_S
    while time.monotonic() < ends and demo.poll() is None:
        with suppress(OSError):
            if urllib.request.urlopen(address, timeout=5).status == 200:
                return
        time.sleep(0.3)
    raise RuntimeError(f"The demo does not come up:\n{log.read_text()[-4000:]}")


@pytest.fixture
def sign_in(facts: dict[str, Any], chromium: Browser) -> Iterator[SignIn]:
    """A browser of somebody who types user name and password; faults of its pages fail the test."""
    contexts, faults = [], []

    def opened(account: Account, screen: dict[str, object] = PHONE) -> Page:
        context = chromium.new_context(base_url=facts["base_url"].replace("127.0.0.1", "localhost"), **screen)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda line: faults.append(line.text) if line.type == "error" else None)
        page.goto("/")
        page.get_by_label("User name").fill(account["username"])
        page.get_by_label("Password").fill(account["password"])
        page.get_by_role("button", name="Sign in", exact=True).click()
        page.wait_for_url(re.compile(r"//[^/]+/(?!sign-in)"))
        return page

    yield opened
    for context in contexts:
        context.close()
    conflict = "409 (Conflict)"  # told to the second of two, in words, and noted by the browser
    assert [fault for fault in faults if conflict not in fault] == []


def people(facts: dict[str, Any], role: str) -> list[Account]:
    return [account for account in facts["accounts"] if role in account["roles"]]


def session_of_today(facts: dict[str, Any]) -> dict[str, Any]:
    """The technique session that two adult coaches share with the helper."""
    shared = [one for one in facts["sessions"] if one["kind"] == "technique" and len(one["coaches"]) >= 3]
    today = time.strftime("%Y-%m-%d")
    return next(one for one in shared if one["start"].startswith(today) and len(one["athletes"]) >= 12)


def test_two_head_coaches_plan_and_publish_next_week(facts: dict[str, Any], sign_in: SignIn) -> None:
    first, second = (sign_in(account, DESK) for account in people(facts, "head_coach")[:2])
    for page in (first, second):
        page.get_by_role("link", name="Week", exact=True).click()
        page.get_by_role("link", name="Week after").click()
    first.get_by_role("button", name="Propose").click()
    expect(first.get_by_role("button", name="Stop the planner")).to_be_visible()
    first.get_by_role("link", name="Today").click()  # the page stays usable meanwhile
    first.go_back()
    expect(first.get_by_role("button", name="Accept all moves", exact=True)).to_be_visible(timeout=PLANNED_WITHIN_MS)
    second.reload()
    ticks = first.get_by_role("checkbox")
    for place in range(ticks.count()):
        ticks.nth(place).set_checked(place % 2 == 0)
    first.get_by_role("button", name="Accept all moves", exact=True).click()
    expect(first.get_by_role("heading", name="The draft by day")).to_be_visible()

    second.get_by_role("button", name="Accept all moves", exact=True).click()
    expect(second.locator("main")).to_contain_text(people(facts, "head_coach")[0]["username"].split(".")[0].title())
    assert second.get_by_role("button", name="Accept all moves", exact=True).count() <= 1

    first.get_by_role("link", name=re.compile(r"Publish: \d+ people")).click()
    first.get_by_role("button", name=re.compile(r"Publish: [1-9]\d* people")).click()
    expect(first.locator("main")).to_contain_text("Published by")


def test_two_coaches_and_an_athlete_at_one_session(facts: dict[str, Any], sign_in: SignIn) -> None:
    session = session_of_today(facts)
    adults = [a for a in people(facts, "coach") if a["username"] in session["coaches"] and a["age"] >= 18]
    pages = [sign_in(account) for account in adults[:2]]
    for page in pages:
        page.goto(f"/coach/sessions/{session['id']}")
    pages[0].get_by_role("button", name="All here").click()
    pages[0].get_by_role("button", name="To the run").click()
    name = pages[0].locator("[data-name]").inner_text()
    pages[0].get_by_role("button", name="held").first.click()
    expect(pages[0].locator("[data-name]")).not_to_have_text(name)
    expect(pages[0].locator("#queue [data-signal-text]")).to_have_text("Saved")
    expect(pages[1].locator("[data-here]")).not_to_have_text("0 here")

    athlete = next(a for a in people(facts, "athlete") if a["person"] in session["athletes"] and a["age"] >= 13)
    page = sign_in(athlete)
    page.goto(f"/athlete/log/{session['id']}")
    form = page.locator("form[data-log='felt']")
    form.get_by_label("5 hard").check()
    form.get_by_label("by itself").check()
    form.get_by_role("button", name="SAVE").click()
    expect(page.get_by_role("link", name="Now see the coach's words")).to_be_visible()
    page.get_by_role("link", name="Now see the coach's words").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("My running")


def test_a_guardian_says_not_coming_and_stops_health(facts: dict[str, Any], sign_in: SignIn) -> None:
    guardian, child = child_with_health(facts, sign_in)
    coach = next(
        account
        for account in people(facts, "coach")
        if set(account["groups"]) & set(child["groups"]) and account["age"] >= 18
    )
    reader = sign_in(coach)
    history = f"/api/v1/athletes/{child['person']}/form-history?as=coach"
    before = reader.request.get(history)
    assert before.status == 200

    guardian.goto(f"/guardian/permissions/{child['person']}")
    section = guardian.locator("section", has=guardian.get_by_text("May the named coaches know where it hurts?"))
    section.get_by_role("button", name="Stop this now").click()
    expect(section).to_contain_text("stopped")

    after = reader.request.get(history)
    assert '"place"' not in after.text()
    reader.goto(f"/coach/athletes/{child['person']}")
    expect(reader.locator("main")).to_contain_text("Not recorded")

    guardian.goto("/guardian/family")
    guardian.locator("details.fold summary").first.click()
    guardian.get_by_role("button", name="Not coming").first.click()
    expect(guardian.locator("main")).to_contain_text("not coming")


def child_with_health(facts: dict[str, Any], sign_in: SignIn) -> tuple[Page, Account]:
    """A guardian who has said yes to pain notes of a child with an account."""
    accounts = {account["person"]: account for account in people(facts, "athlete")}
    for guardian in people(facts, "guardian"):
        for child in guardian["children"]:
            if child in accounts:
                page = sign_in(guardian)
                answer = page.goto(f"/guardian/permissions/{child}")
                if answer is not None and answer.status == 200:
                    section = page.locator("section", has=page.get_by_text("where it hurts?"))
                    if section.get_by_role("button", name="Stop this now").count():
                        return page, accounts[child]
    raise AssertionError("The demo club has such a family.")
