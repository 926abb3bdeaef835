"""How soon the demo answers, and how much memory its processes take: python -m tests.bench.bench_serving

First page of a first start and of a later one, memory of the web process after some pages, and of the worker while it
solves the week of the demo club.
"""

import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from tests.demo_server import Browser, DemoServer, demo_server, status_of
from tests.processes import Process, children_of

PAGES = 30


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        with demo_server(data) as server:
            print(f"first start: first page after {_first_page_s(server):.1f} s, ready after {_ready_s(server):.1f} s")
            server.kill()
        with demo_server(data) as server:
            print(f"later start: first page after {_first_page_s(server):.1f} s, ready after {_ready_s(server):.1f} s")
            _measure_memory(server)


def _first_page_s(server: DemoServer) -> float:
    began = time.monotonic()
    while status_of(f"{server.url}/sign-in") != 200:
        time.sleep(0.02)
    return time.monotonic() - began


def _ready_s(server: DemoServer) -> float:
    return server.seconds_until_ready(at_most=120)


def _measure_memory(server: DemoServer) -> None:
    facts = server.facts()
    head = next(row for row in facts["accounts"] if "head_coach" in row["roles"])
    browser = Browser(server.url)
    browser.sign_in(head)
    for _ in range(PAGES):
        browser.get("/")
    processes = _processes(server)
    print(f"web after {PAGES} pages: {processes['web'].memory_mb():.0f} MB")
    proposal, seconds = _solve_next_week(browser)
    print(f"next week: {proposal['state']} after {seconds:.1f} s")
    print(f"worker, peak while solving: {processes['solve'].memory_mb(peak=True):.0f} MB")
    print(f"worker of the other jobs, peak: {processes['default'].memory_mb(peak=True):.0f} MB")


def _processes(server: DemoServer) -> dict[str, Process]:
    """The web process (under its master) and the two workers."""
    found = {}
    for child in children_of(server.process.pid):
        if "gunicorn" in child.words:
            found["web"] = children_of(child.pid)[0]
        else:
            found[child.words[child.words.index("-Q") + 1]] = child
    return found


def _solve_next_week(browser: Browser) -> tuple[Any, float]:
    """Ask for a proposal of next week and wait for it."""
    year, week, _day = (date.today() + timedelta(weeks=1)).isocalendar()
    began = time.monotonic()
    proposal = browser.post(f"/api/v1/weeks/{year}-W{week:02d}/proposals", {})
    while proposal["state"] in ("waiting", "running"):
        time.sleep(0.2)
        proposal = browser.get(f"/api/v1/proposals/{proposal['id']}")
    return proposal, time.monotonic() - began


if __name__ == "__main__":
    main()
