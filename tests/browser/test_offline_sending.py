"""Sending in a real Chromium: what a server may answer, what has waited too long, and a phone that keeps nothing."""

import json
from collections.abc import Callable
from datetime import time
from pathlib import Path

import pytest
from playwright.sync_api import Page, Request, Route, expect

from sessions.models import Entry, Focus
from teamtrack.common.clock import today_in
from tests.browser.conftest import OpenPage
from tests.browser.test_offline import NO_SIGNAL, SHIFT, begin, held, results, sent, waiting
from tests.people import Scene, make_session

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DAY_MS = 24 * 3600 * 1000
KEEPS_NOTHING = """IDBFactory.prototype.open = () => { throw new DOMException("switched off", "SecurityError"); };"""


@pytest.fixture
def session_page(live_scene: Scene, open_page: OpenPage) -> Callable[[], Page]:
    scene, day = live_scene, today_in(live_scene.club.timezone)
    for athlete in (scene.athlete, scene.child, scene.adult_athlete):
        Focus.objects.create(club=scene.club, athlete=athlete, feature=scene.feature, since=day, set_by=scene.coach)

    def opened() -> Page:
        page = open_page(scene.coach, f"/coach/sessions/{scene.training_session.pk}")
        page.expected.extend(NO_SIGNAL)
        return page

    return opened


def count_of(request: Request) -> int:
    return len(request.post_data_json["entries"])


def test_what_is_too_large_goes_in_halves(live_scene: Scene, session_page: Callable[[], Page]) -> None:
    page = session_page()
    page.expected.append("413")
    counts = []

    def at_most_two(route: Route) -> None:
        counts.append(count_of(route.request))
        if counts[-1] <= 2:
            return route.fallback()
        return route.fulfill(status=413, json={"code": "TOO_LARGE", "detail": "Too much at once."})

    page.route("**/entries", at_most_two)
    begin(page)
    sent(page)
    assert counts == [3, 1, 1, 1]
    assert Entry.objects.filter(training_session=live_scene.training_session).count() == 3


def test_a_proof_of_origin_that_is_too_old_is_fetched_anew(live_scene: Scene, session_page: Callable[[], Page]) -> None:
    page = session_page()
    page.expected.append("403")
    begin(page)
    sent(page)
    answers: list[int] = []
    page.on("response", lambda found: answers.append(found.status) if found.request.method == "POST" else None)
    page.context.clear_cookies(name="csrftoken")
    held(page)
    sent(page)
    assert answers == [403, 200]
    assert len(results(live_scene)) == 1


def test_a_server_that_asks_for_time_is_given_it(live_scene: Scene, session_page: Callable[[], Page]) -> None:
    """Too much at once is told as a busy server is."""
    page = session_page()
    page.expected.append("429")
    begin(page)
    sent(page)
    counts = []

    def busy_at_first(route: Route) -> None:
        counts.append(count_of(route.request))
        if len(counts) > 1:
            return route.fallback()
        said = {"code": "TOO_MANY", "detail": "Too much at once."}
        return route.fulfill(status=429, headers={"Retry-After": "20"}, json=said)

    page.route("**/entries", busy_at_first)
    held(page)
    waiting(page, 1)
    held(page)  # neither a new entry
    page.evaluate("dispatchEvent(new Event('online'))")  # nor the signal coming back
    page.wait_for_timeout(3500)  # nor the usual wait of two seconds tries again before
    assert counts == [1]
    sent(page)
    assert counts == [1, 2]
    assert len(results(live_scene)) == 2


def test_what_is_given_up_by_hand_counts_no_more(session_page: Callable[[], Page]) -> None:
    """On the page that made it, too, which reads its entries from memory."""
    page = session_page()

    def refused(route: Route) -> None:
        entries = route.request.post_data_json["entries"]
        answers = [
            {"id": one["id"], "answer": "refused", "code": "BAD_VALUE", "detail": "Not taken."} for one in entries
        ]
        route.fulfill(json={"answers": answers})

    page.route("**/entries", lambda route: refused(route) if route.request.method == "POST" else route.fallback())
    page.get_by_role("button", name="All here").click()
    expect(page.locator("[data-signal-count]")).to_have_text("3 not taken")
    expect(page.locator("[data-here]")).to_have_text("0 here")
    page.locator("#queue summary").click()
    for _ in range(3):
        page.get_by_role("button", name="Remove").first.click()
        page.wait_for_timeout(450)
    expect(page.get_by_role("list", name="Not yet sent").get_by_role("listitem")).to_have_count(0)
    expect(page.locator("[data-here]")).to_have_text("0 here")


def test_what_waits_is_written_to_a_file_and_warns_after_three_days(session_page: Callable[[], Page]) -> None:
    page = session_page()
    begin(page)
    sent(page)
    page.route("**/api/**", lambda route: route.abort())
    held(page)
    waiting(page, 1)
    page.locator("#queue summary").click()
    with page.expect_download() as download:
        page.get_by_role("button", name="Write to a file").click()
    assert download.value.suggested_filename == "waiting-entries.json"
    written = json.loads(Path(download.value.path()).read_text())
    assert [(one["state"], one["entry"]["kind"], one["entry"]["shown"]) for one in written] == [
        ("waiting", "observation", "held")
    ]
    page.locator("#queue summary").click()
    warning = page.get_by_text("waited for more than three days")
    expect(warning).to_be_hidden()
    page.evaluate(SHIFT, 3 * DAY_MS + 60_000)
    held(page)
    waiting(page, 2)
    expect(warning).to_be_visible()
    expect(warning).to_contain_text("1 have waited")


def test_a_phone_that_keeps_nothing_says_so_and_takes_nothing(live_scene: Scene, open_page: OpenPage) -> None:
    strides = make_session(
        live_scene.group, starts=time(0), minutes=23 * 60, coaches=(live_scene.coach,), athletes=(live_scene.athlete,)
    )
    places = {
        live_scene.coach: f"/coach/sessions/{live_scene.training_session.pk}",
        live_scene.athlete: f"/athlete/log/{strides.pk}",
    }
    for person, address in places.items():
        page = open_page(person, "/today")
        page.add_init_script(KEEPS_NOTHING)
        posts: list[str] = []
        page.on("request", lambda one, posts=posts: posts.append(one.url) if one.method == "POST" else None)
        page.goto(address)
        expect(page.locator("[data-store-fault]")).to_contain_text("This phone keeps nothing here")
        expect(page.get_by_role("button", name="All here")).to_be_hidden()
        expect(page.get_by_text("Opening the session")).to_be_hidden()
        expect(page.get_by_role("button", name="STOP")).to_be_hidden()
        for save in page.get_by_role("button", name="SAVE").all():
            expect(save).to_be_disabled()
        assert posts == []
    assert not Entry.objects.exists()


def test_signing_out_asks_first_while_entries_wait(live_scene: Scene, session_page: Callable[[], Page]) -> None:
    page = session_page()
    begin(page)
    sent(page)
    page.route("**/entries", lambda route: route.abort())
    held(page)
    waiting(page, 1)
    page.locator("details.me summary").click()
    page.get_by_role("button", name="Sign out").click()
    asked = page.get_by_role("dialog", name="Sign out?")
    expect(asked).to_contain_text("could not be sent: 1")
    with page.expect_download() as download:
        asked.get_by_role("button", name="Write to a file").click()
    assert len(json.loads(Path(download.value.path()).read_text())) == 1
    asked.get_by_role("button", name="Stay signed in").click()
    expect(asked).to_be_hidden()
    waiting(page, 1)
    page.wait_for_timeout(450)  # the same button again within 0.4 s is no second tap
    page.locator("details.me summary").click()
    page.get_by_role("button", name="Sign out").click()
    asked.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert results(live_scene) == []
