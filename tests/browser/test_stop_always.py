"""STOP in a real browser: permission x signal x role.

The phone stops the runner before any signal, asks for a place only where it may be kept, else says whom to tell, with
the number; every other phone has the stop once both have signal.
"""

import itertools
from datetime import time as hour

import pytest
from playwright.sync_api import Page, expect

from sessions.models import Entry
from tests.browser.conftest import PHONE, OpenPage, once
from tests.entries import pains_kept
from tests.people import Scene, answer, make_session
from tests.sizes import LONG

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PERMISSIONS = ("nothing said", "yes", "withdrawn")
SIGNALS = ("signal", "none", "lost on the way")
ROLES = ("coach", "second_coach", "helper", "athlete")
ALL = list(itertools.product(PERMISSIONS, SIGNALS, ROLES))
# In the ordinary run each role once, each permission and each signal with it; whole on demand.
SOME = [("yes", "none", "coach"), ("withdrawn", "lost on the way", "helper"), ("nothing said", "none", "athlete")]
NO_SIGNAL = ("ERR_INTERNET_DISCONNECTED", "ERR_FAILED")


def say(scene: Scene, permission: str) -> None:
    """The family's answers; a yes names the coach alone."""
    if permission != "nothing said":
        for giver in (scene.athlete, scene.guardian):
            answer(scene.athlete, giver, names=(scene.coach,))
    if permission == "withdrawn":
        answer(scene.athlete, scene.guardian, word="withdrawn")


def stop_beside_the_straight(page: Page) -> None:
    page.get_by_role("button", name="All here").click()
    page.get_by_role("button", name="To the run").click()
    page.get_by_role("button", name="Order").click()
    page.get_by_role("button", name="STOP Noela Tester").first.click()


def stop_oneself(page: Page) -> None:
    page.get_by_role("group", name="Anything hurt?").get_by_role("radio", name="Yes", exact=True).check()


@pytest.mark.parametrize(("permission", "signal", "role"), ALL if LONG else SOME)
def test_a_stop_works(live_scene: Scene, open_page: OpenPage, permission: str, signal: str, role: str) -> None:
    say(live_scene, permission)
    is_own = role == "athlete"
    session = make_session(
        live_scene.group, starts=hour(0), minutes=23 * 60, coaches=(live_scene.coach, live_scene.second_coach),
        helpers=(live_scene.helper,), athletes=(live_scene.athlete, live_scene.child),
    )  # fmt: skip
    page = open_page(
        getattr(live_scene, role), f"/athlete/log/{session.pk}" if is_own else f"/coach/sessions/{session.pk}", PHONE
    )
    page.expected += NO_SIGNAL
    if signal == "none":
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.context.set_offline(True)
    if signal == "lost on the way":
        page.route("**/entries", lambda route: route.abort())
    (stop_oneself if is_own else stop_beside_the_straight)(page)
    may_keep = permission == "yes" and role in ("coach", "athlete")
    if is_own:
        expect(page.get_by_text("Stop. Tell an adult here.")).to_be_visible()
        expect(page.get_by_role("group", name="Where?")).to_have_count(int(may_keep))
        assert page.get_by_text("Where it hurts is not kept here.").count() == int(not may_keep)
        assert "112" in page.locator("main").inner_text()
    else:
        expect(page.get_by_role("heading", name="Noela: stopped for today")).to_be_visible()
        expect(page.get_by_role("link", name="Call 112")).to_have_attribute("href", "tel:112")
        knee, untold = (
            page.get_by_role("button", name="Knee"),
            page.get_by_text("Nothing is written down about it here."),
        )
        (expect(knee).to_be_visible if may_keep else expect(knee).to_be_hidden)()
        (expect(untold).to_be_hidden if may_keep else expect(untold).to_be_visible)()
    assert signal == "signal" or not Entry.objects.filter(kind="stop").exists()
    page.context.set_offline(False)
    page.unroute_all()
    stopped = Entry.objects.filter(kind="stop", athlete=live_scene.athlete)
    assert once(stopped.exists), "the stop waits on the phone and is not sent"
    assert pains_kept() == []
    if not is_own:
        other = open_page(live_scene.second_coach if role == "coach" else live_scene.coach, page.url, PHONE)
        other.get_by_role("button", name="Order").click()
        expect(other.get_by_role("listitem").filter(has_text="Noela")).to_contain_text("stopped")
