"""The admin reads a file: three taps to the preview, answered by keyboard, applied, undone; people found by typing."""

import pytest
from playwright.sync_api import expect

from athletes.models import Person
from tests.browser.conftest import DESK
from tests.web.test_roster_files import HEAD, ODA, ZOE, work

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_file_from_the_roster_page_and_back_out(live_scene, open_page):
    page = open_page(live_scene.admin, "/admin/roster", DESK)
    page.get_by_role("link", name="Read a file").first.click()
    page.get_by_label("The club's list").set_input_files(
        {"name": "list.csv", "mimeType": "text/csv", "buffer": (HEAD + ZOE + ODA).encode()}
    )
    page.get_by_role("button", name="Read", exact=True).click()
    expect(page.locator("#working")).to_be_visible()
    work()
    expect(page.get_by_role("heading", name="Squads and groups")).to_be_visible()
    for name, wanted in (("U16", "new"), ("U14", "new"), ("Throws", "new:youth")):
        page.get_by_label(name, exact=True).select_option(wanted)
    page.get_by_label("Everybody new, or their guardians").press("Space")
    page.get_by_role("button", name="Put it in the roster").press("Enter")
    expect(page.locator("#working")).to_be_visible()
    work()
    expect(page.get_by_text("In the roster: 2 added")).to_be_visible()
    page.get_by_role("group", name="Undo").get_by_role("button").press("Enter")
    expect(page.get_by_text("taken back")).to_be_visible()
    assert not Person.objects.filter(family_name="Quill").exists()
    page.get_by_label("Find somebody by name").press_sequentially("íve")
    expect(page.get_by_text("Nobody of this name.")).to_be_visible()
    page.get_by_label("Find somebody by name").fill("ivo te")
    expect(page.locator("#found a")).to_have_count(1)
    page.keyboard.press("Tab")
    expect(page.locator("#found a")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Ivo Tester")
