"""Scripts as they are served, run in a real Chromium: each module by itself, and a page's modules as one file."""

from datetime import time
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from teamtrack.common.bundled_scripts import bundle
from teamtrack.common.lean_scripts import lean_script
from teamtrack.common.web.phone import STATIC_DIR
from tests.browser.conftest import OpenPage
from tests.browser.test_offline import begin, sent
from tests.people import Scene, make_session

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WORKER = STATIC_DIR / "js/service_worker.js"
LOAD = """async (addresses) => {
  const failed = [];
  for (const address of addresses) await import(address).catch((fault) => failed.push(`${address}: ${fault}`));
  return failed;
}"""


def lean(path: str) -> str:
    return lean_script((STATIC_DIR / path).read_text())


def serve(page: Page, scripts: dict[str, str]) -> list[str]:
    """Serve these texts in place of the files; answers which scripts the page asks for."""
    asked: list[str] = []

    def answer(route: Route) -> None:
        path = route.request.url.partition("/static/")[2]
        asked.append(path)
        if path in scripts:
            return route.fulfill(body=scripts[path], content_type="text/javascript")
        return route.fallback()

    page.route("**/static/js/**", answer)
    return asked


def test_every_lean_module_loads(live_scene: Scene, open_page: OpenPage) -> None:
    modules = [path.relative_to(STATIC_DIR).as_posix() for path in sorted((STATIC_DIR / "js").rglob("*.js"))]
    modules.remove(WORKER.relative_to(STATIC_DIR).as_posix())
    page = open_page(None, "/sign-in")
    asked = serve(page, {path: lean(path) for path in modules})
    page.reload()
    assert page.evaluate(LOAD, [f"/static/{path}" for path in modules]) == []
    assert set(asked) == set(modules)
    lost = [path for path in modules if len(lean(path)) >= len(Path(STATIC_DIR / path).read_text())]
    assert lost == []  # every one has a comment at its head


def test_the_session_runs_from_one_file(live_scene: Scene, open_page: OpenPage) -> None:
    name = "js/pages/trackside.js"
    page = open_page(live_scene.coach, "/sign-in")
    asked = serve(page, {name: bundle(name, lean)})
    page.goto(f"/coach/sessions/{live_scene.training_session.pk}")
    begin(page)
    sent(page)
    for view in ("Order", "Roll", "Numbers", "Run"):
        page.get_by_role("navigation", name="Views").get_by_role("button", name=view).click()
    expect(page.locator("[data-name]")).to_be_visible()
    assert [path for path in asked if path != name] == []


def test_log_strides_runs_from_one_file(live_scene: Scene, open_page: OpenPage) -> None:
    session = make_session(
        live_scene.group, starts=time(0), minutes=23 * 60, coaches=(live_scene.coach,), athletes=(live_scene.athlete,)
    )
    name = "js/pages/log_strides.js"
    page = open_page(live_scene.athlete, "/sign-in")
    asked = serve(page, {name: bundle(name, lean)})
    page.goto(f"/athlete/log/{session.pk}")
    page.locator("#log[data-ready]").wait_for()
    page.get_by_role("group", name="How hard was it?").first.get_by_role("radio", name="5 hard", exact=True).check()
    with page.expect_response("**/entries") as answer:
        page.get_by_role("button", name="SAVE", exact=True).click()
    assert answer.value.json()["answers"][0]["answer"] == "accepted"
    assert [path for path in asked if path != name] == []
