"""The season's strip in a real browser: a phase is stretched by keys and by pointer, then tried; the season's pages are
whole and without a fault; it is printed on one page."""

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from athletes.viewer import viewer_for
from sessions.models import Rehearsal, SeasonPlan
from sessions.services.change_season import make_season, starter_document
from tests.browser.conftest import DESK, OpenPage
from tests.browser.test_every_page import faults_of
from tests.browser.test_printing import A4_MM, sheets_of
from tests.people import Scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def made(scene: Scene) -> SeasonPlan:
    viewer = viewer_for(scene.head_coach, "head_coach")
    monday = viewer.today + timedelta(days=7 - viewer.today.weekday())
    document = starter_document(viewer=viewer, starter="one_peak", name="First", first_monday=monday, weeks=40)
    return make_season(viewer=viewer, document=document)


def test_a_phase_is_stretched_by_keys_and_by_pointer_and_tried(live_scene: Scene, open_page: OpenPage) -> None:
    season = made(live_scene)
    first = season.phases.first()
    page = open_page(live_scene.head_coach, "/head-coach/season", DESK)
    end = page.get_by_role("slider", name="Last week of general preparation")
    end.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    told = page.locator("[data-stretched-words]")
    expect(told).to_have_text(f"general preparation: weeks 1 to {first.last_week + 2}")
    page.keyboard.press("Escape")
    expect(told).to_be_hidden()
    box = end.bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    wide = page.locator(".strip-ends").bounding_box()["width"] / season.weeks
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] - 3 * wide, middle[1], steps=4)
    page.mouse.up()
    expect(told).to_have_text(f"general preparation: weeks 1 to {first.last_week - 3}")
    page.get_by_role("button", name="See what it does").first.click()
    expect(page.get_by_role("heading", name="What it does")).to_be_visible()
    asked = Rehearsal.objects.get()
    assert [(row["first_week"], row["last_week"]) for row in asked.wanted["phases"]][:2] == [
        (1, first.last_week - 3),
        (first.last_week - 2, season.phases.all()[1].last_week),
    ]


def test_the_pages_of_a_season_are_whole_and_it_prints_on_one_page(live_scene: Scene, open_page: OpenPage) -> None:
    season = made(live_scene)
    here, taper = f"/head-coach/seasons/{season.pk}", season.phases.get(aim="taper")
    item = taper.pattern_items.first()
    paths = ["", "/rehearsal", f"/phases/{taper.pk}", f"/phases/{taper.pk}/groups/{live_scene.group.pk}"]
    paths += [f"/sessions/{item.pk}", "/weeks/3"]
    page, faults = open_page(live_scene.head_coach, here, DESK), {}
    for path in paths:
        page.goto(here + path)
        faults[path] = faults_of(page)
    assert {path: found for path, found in faults.items() if found} == {}
    page.set_viewport_size(DESK["viewport"])
    page.goto(here + "/paper")
    [sheet] = sheets_of(page.pdf(prefer_css_page_size=True))
    assert sheet == pytest.approx(A4_MM, abs=1)
