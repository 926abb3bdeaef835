"""Off line in a real Chromium: opened again without signal, sent once, and nobody else's."""

from collections.abc import Callable
from datetime import time, timedelta
from typing import Any

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from playwright.sync_api import Page, Route, expect

from athletes.models import Person, Restriction
from sessions.models import Entry, Focus, TrainingSession
from teamtrack.common.clock import today_in
from tests.browser.conftest import OpenPage, once
from tests.entries import tell
from tests.people import Scene, make_session

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NO_SIGNAL = ("ERR_INTERNET_DISCONNECTED", "ERR_FAILED", "ERR_ABORTED", "Failed to fetch")
CONTROLLED = """() => navigator.serviceWorker.controller || new Promise(ok =>
  navigator.serviceWorker.addEventListener("controllerchange", () => ok(true), {once: true}))"""
KEPT = """async () => {
  for (let tries = 0; tries < 100; tries += 1) {
    const names = (await caches.keys()).filter((name) => name.startsWith("pages-"));
    for (const name of names) {
      if (await (await caches.open(name)).match(location.href, { ignoreVary: true })) return true;
    }
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  return false;
}"""
LYING_HERE = """async () => {
  const found = { databases: [], pages: [], items: 0, text: "" };
  for (const { name } of await indexedDB.databases()) {
    const base = await new Promise((ok) => {
      const r = indexedDB.open(name);
      r.onupgradeneeded = () => r.transaction.abort();  // it went meanwhile: looking makes no new one
      r.onsuccess = () => ok(r.result);
      r.onerror = () => ok(null);
    });
    if (!base) continue;
    for (const store of base.objectStoreNames) {
      const rows = await new Promise((ok) => {
        const r = base.transaction(store).objectStore(store).getAll(); r.onsuccess = () => ok(r.result);
      });
      if (store === "outbox") found.items += rows.length;
      found.text += JSON.stringify(rows);
    }
    base.close();
    found.databases.push(name);
  }
  for (const name of await caches.keys()) {
    if (name.startsWith("pages-")) found.pages.push(...(await (await caches.open(name)).keys()).map(({ url }) => url));
  }
  return found;
}"""
NAMES = "async () => (await indexedDB.databases()).map(({ name }) => name)"
SHIFT = """(ms) => {
  const Before = Date;
  globalThis.Date = class extends Before {
    constructor(...given) { given.length ? super(...given) : super(Before.now() + ms); }
    static now() { return Before.now() + ms; }
  };
}"""
WRITES_AT_THE_LAST = """async () => {
  const { PersonStore } = await import("/static/js/store/person.js");
  const form = document.querySelector("[data-sign-out]");
  form.submit = async () => {
    const store = new PersonStore(document.body.dataset.person);
    await store.open();
    await store.keepSession({ id: "late", bundle: {}, served: Date.now(), wipe_after: Date.now() + 3_600_000 });
    sessionStorage.wrote = "yes";
    HTMLFormElement.prototype.submit.call(form);
  };
}"""
FULL = """() => {
  IDBObjectStore.prototype.put = () => { throw new DOMException("no room", "QuotaExceededError"); };
}"""
IMPATIENT = "{ const wait = AbortSignal.timeout; AbortSignal.timeout = (ms) => wait.call(AbortSignal, ms / 20); }"


@pytest.fixture
def track(live_scene: Scene, open_page: OpenPage) -> Callable[..., Page]:
    """The session's page, ready to be opened without signal; a week ago Bran told Noela to hold a feather."""
    scene, today = live_scene, today_in(live_scene.club.timezone)
    for athlete in (scene.athlete, scene.child, scene.adult_athlete):
        Focus.objects.create(
            club=scene.club, athlete=athlete, feature=scene.feature, since=today - timedelta(7), set_by=scene.coach
        )
    before = make_session(scene.group, day=today - timedelta(days=2), athletes=(scene.athlete, scene.child))
    tell(before, scene.child, scene.second_coach, 1, "hold a feather")

    def opened(person: Person) -> Page:
        page = open_page(person, f"/coach/sessions/{scene.training_session.pk}")
        page.expected.extend(NO_SIGNAL)
        page.evaluate(CONTROLLED)
        assert page.evaluate(KEPT)
        return page

    return opened


def begin(page: Page) -> None:
    page.get_by_role("button", name="All here").click()
    expect(page.locator("[data-here]")).to_have_text("3 here")
    page.get_by_role("button", name="To the run").click()


def held(page: Page) -> None:
    name = page.locator("[data-name]").inner_text()
    page.get_by_role("button", name="Held", exact=True).click()
    expect(page.locator("[data-name]")).not_to_have_text(name, use_inner_text=True)
    page.wait_for_timeout(450)


def sent(page: Page) -> None:
    expect(page.locator("#queue .signal")).to_contain_text("Saved")
    expect(page.locator("#queue [data-signal-count]")).to_be_empty()


def waiting(page: Page, count: int) -> None:
    expect(page.locator("[data-signal-count]")).to_have_text(f"{count} saved here")


def results(scene: Scene) -> list[Entry]:
    return list(Entry.objects.filter(training_session=scene.training_session, kind="observation").order_by("seq"))


def sign_in_as(page: Page, person: Person) -> None:
    client = Client()
    client.force_login(person.account)
    value = client.cookies[settings.SESSION_COOKIE_NAME].value
    origin = page.evaluate("location.origin")
    page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": origin}])


def test_off_line_reloaded_closed_and_opened_again(live_scene: Scene, track: Callable[..., Page]) -> None:
    page = track(live_scene.coach)
    begin(page)
    sent(page)
    context = page.context
    context.set_offline(True)
    page.route("**/api/**", lambda route: route.abort())  # a page loaded anew may send before it is off line, too
    held(page)
    waiting(page, 1)
    expect(page.locator("#queue .signal")).to_contain_text("No signal")
    page.reload()
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    expect(page.get_by_text("no signal.")).to_contain_text("Page of")
    held(page)
    waiting(page, 2)
    page.get_by_role("button", name="Numbers").click()
    expect(page.get_by_role("link", name="Emergency: call 112")).to_be_visible()
    address = page.url
    assert results(live_scene) == []
    page.close()
    again, other = context.new_page(), context.new_page()
    for tab in (again, other):
        tab.route("**/api/**", lambda route: route.abort())
        tab.goto(address)
        waiting(tab, 2)
    held(again)
    waiting(other, 3)  # the other tab of the same person shows it too
    for tab in (again, other):
        tab.unroute("**/api/**")
    context.set_offline(False)
    for tab in (again, other):
        expect(tab.locator("[data-signal-count]")).to_be_empty()
    assert len({row.athlete_id for row in results(live_scene)}) == len(results(live_scene)) == 3


def test_today_fetches_its_sessions_ahead_and_the_rest_needs_signal(live_scene: Scene, open_page: OpenPage) -> None:
    page = open_page(live_scene.coach, "/today")
    page.expected.extend(NO_SIGNAL)
    page.evaluate(CONTROLLED)
    assert page.evaluate(KEPT)
    address = f"/coach/sessions/{live_scene.training_session.pk}"
    for _ in range(60):
        found = page.evaluate(LYING_HERE)
        if live_scene.athlete.given_name in found["text"]:
            break
        page.wait_for_timeout(100)
    page.context.set_offline(True)
    page.goto(address)
    expect(page.get_by_role("heading", name="Roll call")).to_be_visible()
    page.goto("/today")
    expect(page.get_by_text("no signal.")).to_contain_text("Page of")
    page.goto("/coach/athletes")
    expect(page.get_by_role("heading", name="Needs signal")).to_be_visible()


def test_the_first_page_of_a_phone_finds_its_store_in_place(live_scene: Scene, open_page: OpenPage) -> None:
    """What is past its day is wiped while a page opens: the new, empty store of whoever is signed in is not."""
    name = live_scene.athlete.given_name
    for person in (live_scene.coach, live_scene.second_coach, live_scene.coach):
        page = open_page(person, "/coach/athletes")
        page.evaluate(CONTROLLED)
        assert once(lambda at=page: at.evaluate(NAMES), page.wait_for_timeout, 100)
        page.goto(f"/coach/sessions/{live_scene.training_session.pk}")
        assert once(lambda at=page: name in at.evaluate(LYING_HERE)["text"], page.wait_for_timeout, 100)
        expect(page.locator("[data-store-fault]")).to_be_hidden()


def test_a_clock_that_jumps_loses_nothing(live_scene: Scene, track: Callable[..., Page]) -> None:
    page = track(live_scene.coach)
    begin(page)
    sent(page)
    page.context.set_offline(True)
    for hours in (5, -30, 24 * 5):
        page.evaluate(SHIFT, hours * 3_600_000)
        held(page)
    waiting(page, 3)
    page.context.set_offline(False)
    sent(page)
    assert len({row.pk for row in results(live_scene)}) == 3


def test_a_signal_that_lies(live_scene: Scene, track: Callable[..., Page]) -> None:
    """Connected, but nothing is answered: the phone says no signal by itself, keeps on, and sends once."""
    page = track(live_scene.coach)
    page.add_init_script(IMPATIENT)
    page.reload()
    begin(page)
    sent(page)
    page.expected.append("signal timed out")
    stuck: list[Route] = []
    page.route("**/entries*", lambda route: stuck.append(route))
    held(page)
    held(page)
    expect(page.locator("#queue .signal")).to_contain_text("No signal")
    waiting(page, 2)
    page.unroute("**/entries*")
    sent(page)
    assert len(results(live_scene)) == 2


def test_a_sign_in_that_ran_out_and_another_person(live_scene: Scene, track: Callable[..., Page]) -> None:
    page = track(live_scene.coach)
    begin(page)
    sent(page)
    page.expected.extend(["401", "409"])
    Session.objects.all().delete()
    held(page)
    banner = page.locator("#queue .signal")
    expect(banner).to_contain_text("Signed out meanwhile")
    waiting(page, 1)
    sign_in_as(page, live_scene.second_coach)
    held(page)
    expect(banner).to_contain_text("Somebody else is signed in here.")
    other = page.context.new_page()
    other.goto(page.url)
    expect(other.get_by_role("heading", name="Ivo")).to_be_visible()
    expect(other.locator("[data-signal-count]")).to_be_empty()
    page.context.set_offline(True)
    other.goto("/today")
    expect(other.get_by_role("heading", name="Needs signal")).to_be_visible()  # the first one's Today is not served
    page.context.set_offline(False)
    sign_in_as(page, live_scene.coach)
    held(page)
    sent(page)
    assert {row.by_id for row in results(live_scene)} == {live_scene.coach.pk}
    assert len(results(live_scene)) == 3


def test_a_permission_withdrawn_meanwhile(live_scene: Scene, track: Callable[..., Page]) -> None:
    page = track(live_scene.coach)
    begin(page)
    sent(page)
    expect(page.locator("[data-words]")).to_contain_text("hold a feather")
    page.context.set_offline(True)
    held(page)
    day = today_in(live_scene.club.timezone)
    Restriction.objects.create(club=live_scene.club, athlete=live_scene.child, purpose="feedback", first_day=day)
    page.context.set_offline(False)
    item = page.get_by_role("list", name="Not yet sent").get_by_role("listitem")
    page.locator("#queue summary").click()
    expect(item).to_contain_text("Ivo result: These data of the athlete may only be stored")
    expect(page.locator("[data-signal-count]")).to_have_text("1 not taken")
    page.wait_for_timeout(300)
    assert "hold a feather" not in page.evaluate(LYING_HERE)["text"]
    page.reload()
    page.locator("#queue summary").click()
    expect(item).to_contain_text("Ivo result: These data of the athlete may only be stored")
    page.get_by_role("button", name="Remove Ivo result").click()
    expect(item).to_have_count(0)
    assert page.evaluate(LYING_HERE)["items"] == 0
    assert results(live_scene) == []


def test_storage_cleared_under_an_open_page_is_said_and_written_again(
    live_scene: Scene, track: Callable[..., Page]
) -> None:
    page = track(live_scene.coach)
    begin(page)
    sent(page)
    page.context.set_offline(True)
    held(page)
    clear_store(page, page.evaluate("location.origin"))
    held(page)
    expect(page.locator("[data-store-fault]")).to_contain_text("What this phone kept was cleared. It was written again")
    waiting(page, 2)
    assert page.evaluate(LYING_HERE)["items"] == 2
    address, origin = page.url, page.evaluate("location.origin")
    page.goto("about:blank")
    clear_store(page, origin)
    page.context.set_offline(False)
    page.goto(address)
    expect(page.locator("[data-store-fault]")).to_contain_text("2 entries that waited here are gone.")


def clear_store(page: Page, origin: str) -> None:
    devtools = page.context.new_cdp_session(page)
    devtools.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": "indexeddb"})


def test_a_full_phone_says_that_nothing_more_is_taken(live_scene: Scene, track: Callable[..., Page]) -> None:
    page = track(live_scene.coach)
    begin(page)
    sent(page)
    page.evaluate(FULL)
    name = page.locator("[data-name]").inner_text()
    page.get_by_role("button", name="Held", exact=True).click()
    expect(page.locator("[data-store-fault]")).to_contain_text("This phone is full: nothing more is taken.")
    assert page.locator("[data-name]").inner_text() == name
    assert page.evaluate(LYING_HERE)["items"] == 0


def test_signing_out_wipes_what_was_sent_and_the_days_end_the_rest(
    live_scene: Scene, track: Callable[..., Page]
) -> None:
    page = track(live_scene.coach)
    begin(page)
    sent(page)
    page.context.set_offline(True)
    held(page)
    page.add_init_script(f"({SHIFT})({48 * 3_600_000})")
    page.goto("/today")  # past the session's day: what waits stays, the rest goes
    expect(page.get_by_role("heading", name="Needs signal")).to_be_visible()
    page.context.set_offline(False)
    page.goto("/today")
    assert once(lambda: page.evaluate(LYING_HERE)["items"] == 0, page.wait_for_timeout, 100)
    assert len(results(live_scene)) == 1  # sent from another page
    page.locator("details.me summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    once(lambda: not page.evaluate(NAMES), page.wait_for_timeout, 100)  # a store goes once its page has closed it
    found = page.evaluate(LYING_HERE)
    assert (found["databases"], found["pages"]) == ([], [])
    page.context.set_offline(True)
    page.goto("/today")
    expect(page.get_by_role("heading", name="Needs signal")).to_be_visible()


def test_what_a_page_still_writes_while_its_owner_signs_out_goes_too(live_scene: Scene, open_page: OpenPage) -> None:
    page = open_page(live_scene.coach, "/coach/athletes")
    page.evaluate(CONTROLLED)
    page.evaluate(WRITES_AT_THE_LAST)
    page.locator("details.me summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    once(lambda: not page.evaluate(NAMES), page.wait_for_timeout, 100)
    assert (page.evaluate(NAMES), page.evaluate("sessionStorage.wrote")) == ([], "yes")


def test_log_strides_off_line_and_corrected_off_line(live_scene: Scene, open_page: OpenPage) -> None:
    session: TrainingSession = make_session(
        live_scene.group, starts=time(0), minutes=23 * 60, coaches=(live_scene.coach,), athletes=(live_scene.athlete,)
    )
    page: Any = open_page(live_scene.athlete, f"/athlete/log/{session.pk}")
    page.expected.extend(NO_SIGNAL)
    page.evaluate(CONTROLLED)
    assert page.evaluate(KEPT)
    page.context.set_offline(True)
    page.reload()
    hard = page.get_by_role("group", name="How hard was it?").first
    hard.get_by_role("radio", name="5 hard", exact=True).check()
    page.get_by_role("button", name="SAVE", exact=True).click()
    expect(page.locator("#queue li")).to_have_text("Strides: kept on this phone until signal")
    page.reload()
    expect(hard.get_by_role("radio", name="5 hard", exact=True)).to_be_checked()
    hard.get_by_role("radio", name="7 very hard", exact=True).check()
    page.get_by_role("button", name="SAVE", exact=True).click()
    waiting(page, 2)
    page.context.set_offline(False)
    expect(page.locator("#queue")).to_be_hidden()
    first, second = Entry.objects.order_by("seq")
    assert (first.content, second.content, second.replaces) == ({"effort": 5}, {"effort": 7}, first.pk)
