"""The front in a real browser: components whole at any size, theme kept, undo and double taps, paper."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from sessions.models import Availability
from teamtrack.common.clock import today_in
from tests.browser.conftest import DESK, PHONE, SMALL, OpenPage
from tests.people import Scene, make_session

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TOO_WIDE = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
COLOURS = "() => [getComputedStyle(document.body).backgroundColor, getComputedStyle(document.body).color]"
SMALL_TARGETS = """() => [...document.querySelectorAll("button, a.press, .tile, .tabs a, .bar a")]
  .filter((one) => one.checkVisibility())
  .map((one) => ({ height: one.getBoundingClientRect().height, text: one.textContent }))
  .filter(({ height }) => height < 48)"""
LIGHT_COLOURS = ["rgb(251, 249, 244)", "rgb(22, 25, 29)"]
DARK_COLOURS = ["rgb(18, 20, 23)", "rgb(245, 242, 234)"]
TWO_CLICKS = "(button) => { button.click(); button.click(); }"


@pytest.mark.parametrize("screen", [PHONE, SMALL, DESK], ids=["phone", "small", "desk"])
def test_every_component_is_whole_and_without_a_fault(open_page: OpenPage, screen: dict[str, object]) -> None:
    page = open_page(None, "/components", screen)
    assert page.evaluate(TOO_WIDE) <= 0
    report = Axe().run(page)
    assert report.violations_count == 0, report.generate_report()
    assert page.evaluate(SMALL_TARGETS) == []
    page.evaluate("() => { document.documentElement.style.fontSize = '225%' }")
    assert page.evaluate(TOO_WIDE) <= 0


@pytest.mark.parametrize(("scheme", "colours"), [("light", LIGHT_COLOURS), ("dark", DARK_COLOURS)])
def test_the_theme_follows_the_device_until_one_is_chosen(open_page: OpenPage, scheme: str, colours: list[str]) -> None:
    page = open_page(None, "/components", DESK | {"color_scheme": scheme})
    assert page.evaluate(COLOURS) == colours
    for word, chosen in (("Dark", DARK_COLOURS), ("Light", LIGHT_COLOURS), ("As device", colours)):
        page.get_by_role("group", name="Light or dark").get_by_role("radio", name=word, exact=True).check()
        assert page.evaluate(COLOURS) == chosen
        page.reload()
        assert page.evaluate(COLOURS) == chosen


def test_not_coming_is_two_taps_and_undo_a_third(live_scene: Scene, open_page: OpenPage) -> None:
    scene = live_scene
    tomorrow = today_in(scene.club.timezone) + timedelta(days=1)
    make_session(scene.group, day=tomorrow, athletes=(scene.athlete,), venue=scene.venue)
    scene.training_session.delete()
    page = open_page(scene.guardian, "/guardian/family")
    page.locator("summary.row").first.click()
    page.get_by_role("button", name="Not coming").click()
    undo = page.get_by_role("button", name="Undo")
    expect(undo).to_be_in_viewport()
    undo.click()
    expect(page.get_by_text("runs", exact=True)).to_be_visible()
    assert [word.state for word in Availability.objects.order_by("said_at")] == ["not_today", "run"]


def test_the_undo_bar_goes_after_ten_seconds(live_scene: Scene, open_page: OpenPage) -> None:
    scene = live_scene
    tomorrow = today_in(scene.club.timezone) + timedelta(days=1)
    make_session(scene.group, day=tomorrow, athletes=(scene.athlete,), venue=scene.venue)
    scene.training_session.delete()
    page = open_page(scene.guardian, "/guardian/family")
    page.clock.install()
    page.locator("summary.row").first.click()
    page.get_by_role("button", name="Not coming").click()
    expect(page.get_by_role("button", name="Undo")).to_be_visible()
    page.clock.run_for(9_000)
    expect(page.get_by_role("button", name="Undo")).to_be_visible()
    page.clock.run_for(2_000)
    expect(page.get_by_role("button", name="Undo")).to_have_count(0)


QUICK_TAPS = """() => {
  const all = [...document.querySelectorAll("button")];
  const two = ["Partly", "Not yet"].map((name) => all.find((one) => one.textContent.includes(name)));
  const tap = (button, x, detail = 1) =>
    button.dispatchEvent(new MouseEvent("click", { bubbles: true, detail, clientX: x, clientY: 5 }));
  two.forEach((button) => tap(button, 5)); // two different buttons: both count
  two.forEach((button) => tap(button, 5)); // the same two again: neither
  const add = (text) => {
    const made = document.createElement("button");
    made.textContent = text;
    document.body.append(made);
    return made;
  };
  const [gone, drawn, far] = ["gone", "drawn", "far"].map(add);
  gone.onclick = () => gone.remove();
  tap(gone, 100);
  tap(drawn, 105, 2); // what a double tap finds under the finger: not meant
  tap(far, 105); // another button, quickly: meant
  drawn.dataset.key = "A";
  tap(drawn, 300);
  drawn.replaceWith(drawn.cloneNode(true));
  tap(document.querySelector("[data-key=A]"), 400); // the same one drawn anew
}"""


def test_a_double_tap_counts_once(open_page: OpenPage) -> None:
    page = open_page(None, "/components", PHONE)
    page.evaluate("""() => {
      window.taps = 0;
      document.addEventListener("click", ({ target }) => (window.taps += target.closest("button") ? 1 : 0));
    }""")
    page.get_by_role("button", name="Held").first.evaluate(TWO_CLICKS)
    assert page.evaluate("() => window.taps") == 1
    page.evaluate("() => { window.taps = 0 }")
    page.evaluate(QUICK_TAPS)
    assert page.evaluate("() => window.taps") == 5


def test_paper_is_black_on_white_without_buttons(live_scene: Scene, open_page: OpenPage) -> None:
    page = open_page(live_scene.guardian, "/guardian/family", DESK | {"color_scheme": "dark"})
    page.emulate_media(media="print")
    assert page.evaluate(COLOURS) == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    expect(page.get_by_role("navigation")).to_be_hidden()
    expect(page.locator("details.me")).to_be_hidden()


def test_escape_closes_the_sheet_under_the_name(live_scene: Scene, open_page: OpenPage) -> None:
    page = open_page(live_scene.guardian, "/guardian/family")
    page.locator("details.me > summary").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("button", name="Sign out")).to_be_hidden()
