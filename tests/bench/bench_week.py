"""The Week page of 10 groups and 220 athletes: python -m tests.bench.bench_week

Against a plain view of the same rows, inside the server; then in Chromium, its processor slowed four times, on a slow
network: until the drawn week is in sight, and from a key to the answer what a move would break.
"""

import os
import shutil
import statistics
import time

os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.db import connection
from django.test import Client, override_settings
from django.test.testcases import LiveServerThread
from django.test.utils import setup_databases, teardown_databases
from playwright.sync_api import sync_playwright

import tests.bench.with_django  # noqa: F401
from sessions.services.make_week import make_week
from sessions.services.publish_week import publish_week
from sessions.services.what_if import what_if_moved
from tests.bench.bench_pages import measure
from tests.browser.conftest import ARGS, DESK
from tests.people import make_athlete, make_coach, make_group, make_venue
from tests.planning import PlanScene, give_evenings, make_pattern, make_plan_scene, open_venue, place

GROUPS, ATHLETES = 10, 22
SLOWED, MOVES = 4, 20
SLOW_NETWORK = {"offline": False, "latency": 40, "downloadThroughput": 1_600_000 / 8, "uploadThroughput": 750_000 / 8}
"""1.6 Mbit/s down, 0.75 up, 40 ms there and back: a weak mobile signal (common practice, no source)."""


def make_club() -> PlanScene:
    """Ten groups of 22, each with hard, technique and easy sessions in the week, published."""
    plan = make_plan_scene()
    club = plan.scene.club
    venues = [make_venue(club, f"Straight {letter}") for letter in "BCDEF"]
    for venue in venues:
        open_venue(venue)
    plan.phase.pattern_items.all().delete()
    for number in range(GROUPS):
        group = make_group(club, f"Group {number}")
        coach = make_coach(club, f"Coach{number}", group)
        give_evenings(coach)
        for runner in range(ATHLETES):
            make_athlete(club, f"Runner{number}-{runner}", group, account=False, age=16)
        for order, kind in enumerate(("hard", "technique", "easy")):
            make_pattern(plan.phase, group, kind, venue=venues[number % 5], coaches=(coach,), order=order)
    make_week(viewer=plan.viewer, monday=plan.monday)
    for demand in plan.week.demands.all():
        day = {"hard": 1, "technique": 3, "easy": 5}[demand.kind]
        place(demand, plan.at(day, 17 + demand.group.pk.int % 3), *demand.coaches.all())
    publish_week(viewer=plan.viewer, monday=plan.monday, revision=1)
    return plan


def main() -> None:
    databases = setup_databases(verbosity=0, interactive=False)
    try:
        with override_settings(ROOT_URLCONF="tests.bench.bench_pages"):
            report()
    finally:
        teardown_databases(databases, verbosity=0)


def report() -> None:
    plan = make_club()
    head, label = plan.scene.head_coach, f"{plan.monday:%G-W%V}"
    print(f"{connection.vendor}; load {os.getloadavg()[0]:.1f}")
    measure("Week plan", head, f"/head-coach/week/{label}", f"/plain/week/{plan.monday}")
    demand = plan.week.demands.filter(kind="technique").first()
    seconds = []
    for number in range(MOVES):
        began = time.perf_counter()
        starts_at = plan.at(2 + number % 3, 18)
        what_if_moved(viewer=plan.viewer, monday=plan.monday, demand_id=demand.pk, starts_at=starts_at)
        seconds.append(time.perf_counter() - began)
    print(f"a move tried: median {statistics.median(seconds) * 1e3:.0f} ms in the server")
    in_browser(plan, f"/head-coach/week/{label}")


def in_browser(plan: PlanScene, path: str) -> None:
    server = LiveServerThread("localhost", StaticFilesHandler)
    server.daemon = True
    server.start()
    server.is_ready.wait()
    client = Client(SERVER_NAME="localhost")
    client.force_login(plan.scene.head_coach.account)
    with sync_playwright() as with_:
        chromium = with_.chromium.launch(executable_path=shutil.which("chromium"), args=ARGS)
        context = chromium.new_context(base_url=f"http://localhost:{server.port}", service_workers="block", **DESK)
        name, cookie = next(iter(client.cookies.items()))
        context.add_cookies([{"name": name, "value": cookie.value, "url": f"http://localhost:{server.port}"}])
        page = context.new_page()
        devices = context.new_cdp_session(page)
        devices.send("Network.enable")
        devices.send("Network.emulateNetworkConditions", SLOW_NETWORK)
        devices.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        page.goto(path)
        page.locator("svg[data-moves] [data-session]").first.wait_for()
        painted = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
        loaded = page.evaluate("performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd")
        print(f"first view: painted after {painted:.0f} ms, its scripts ready after {loaded:.0f} ms")
        page.wait_for_timeout(1500)
        page.locator("[data-session]").nth(1).focus()
        times = []
        for number in range(MOVES):
            page.evaluate(WATCH)
            page.keyboard.press("ArrowRight" if number % 2 == 0 else "ArrowLeft")
            if number % 2 == 0:
                times.append(page.evaluate("async () => await globalThis.answered"))
        print(f"a key to what it would break: median {statistics.median(times):.0f} ms, longest {max(times):.0f} ms")
        chromium.close()
    server.terminate()


WATCH = """() => {
  const panel = document.getElementById("what-if");
  panel.replaceChildren();
  let pressedAtMs = null;
  document.addEventListener("keydown", (event) => { pressedAtMs = event.timeStamp; }, { capture: true, once: true });
  globalThis.answered = new Promise((ok) => new MutationObserver((_seen, watcher) => {
    if (!panel.textContent.trim()) return;
    watcher.disconnect();
    requestAnimationFrame(() => ok(performance.now() - pressedAtMs));
  }).observe(panel, { childList: true, subtree: true }));
}"""


if __name__ == "__main__":
    main()
