"""Moving a session of the drawn week by keys and by pointer: what it would break is said before it is saved."""

import re

import pytest
from playwright.sync_api import Locator, Page, expect

from athletes.models import Club
from sessions.models import Placement
from sessions.services.publish_week import publish_week
from tests.browser.conftest import DESK, OpenPage
from tests.browser.test_printing import A4_MM, LETTER_MM, sheets_of
from tests.people import make_staff
from tests.planning import PlanScene, make_placed_week

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def plan(transactional_db: None) -> PlanScene:
    """Hard Tue, technique Thu, easy Sat at 18:00."""
    return make_placed_week()


def starts_of(plan: PlanScene, kind: str) -> object:
    return Placement.objects.get(demand=plan.demand(kind)).starts_at


def session(page: Page, name: str) -> Locator:
    return page.locator(f"[data-session][aria-label^='{name}']")


def drag(page: Page, name: str, days: int) -> None:
    """Take hold of a session in its middle and let it go so many days further on."""
    block = session(page, name)
    box = block.locator(".w-hold").bounding_box()
    assert box is not None
    column = page.locator("svg[data-moves]").evaluate("(svg) => Number(svg.dataset.column) * svg.getScreenCTM().a")
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + days * column / 2, y, steps=3)
    page.mouse.move(x + days * column, y, steps=3)
    page.mouse.up()


def test_keys_and_pointer_ask_first_and_save_on_a_word(plan: PlanScene, open_page: OpenPage) -> None:
    address = f"/head-coach/week/{plan.monday:%G-W%V}"
    page = open_page(plan.scene.head_coach, address, DESK)
    panel = page.locator("#what-if")

    technique = session(page, "Sprint technique")
    technique.focus()
    page.keyboard.press("Shift+ArrowLeft")
    expect(panel).to_contain_text("It would break:")
    expect(panel).to_contain_text(plan.scene.athlete.full_name)
    page.keyboard.press("Escape")
    expect(panel).to_be_empty()
    assert starts_of(plan, "technique") == plan.at(3, 18)

    technique.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    expect(panel).to_contain_text("It keeps every rule.")
    page.keyboard.press("Enter")
    expect(panel.get_by_role("button", name="Move here")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_text("The session is moved.")).to_be_visible()
    assert starts_of(plan, "technique") == plan.at(3, 19)

    other = open_page(make_staff(plan.scene.club, "Second", "head_coach"), address, DESK)
    drag(page, "Sprint easy", 1)
    expect(panel).to_contain_text(re.compile(r"Sprint easy to \w+ 18:00\?\s+It keeps every rule."))
    panel.get_by_role("button", name="Move here").click()
    expect(page.get_by_text("The session is moved.")).to_be_visible()
    assert starts_of(plan, "easy") == plan.at(6, 18)
    expect(other.get_by_text(f"{plan.scene.head_coach.full_name} changed this week")).to_be_visible(timeout=10_000)
    expect(other.get_by_role("link", name="Show the week as it is now")).to_be_visible()


def test_the_week_prints_one_page_a_group_and_the_rota(plan: PlanScene, open_page: OpenPage) -> None:
    publish_week(viewer=plan.viewer, monday=plan.monday, revision=1)
    page = open_page(plan.scene.coach, f"/coach/week/{plan.monday:%G-W%V}/print", DESK)
    for country, size in (("IE", A4_MM), ("US", LETTER_MM)):
        Club.objects.filter(pk=plan.scene.club.pk).update(country=country)
        page.reload()
        sheets = sheets_of(page.pdf(prefer_css_page_size=True))
        assert sheets == [pytest.approx(size, abs=1)] * 2, country
