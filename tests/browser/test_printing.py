"""Paper: A4 or Letter as the club's country prints, and on each page of the grid what sheet it is."""

import re

import pytest
from playwright.sync_api import expect

from athletes.models import Club
from sessions.models import SessionAthlete
from tests.browser.conftest import DESK, OpenPage
from tests.people import Scene, make_athlete, make_sheet

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MM_A_POINT = 25.4 / 72  # a PDF's unit is 1/72 inch (ISO 32000-1, 8.3.2.3)
A4_MM, LETTER_MM = (210, 297), (215.9, 279.4)  # ISO 216; ANSI Y14.1 size A, 8.5 by 11 inches


def sheets_of(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page in millimetres."""
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    return [(float(width) * MM_A_POINT, float(height) * MM_A_POINT) for width, height in boxes]


@pytest.mark.parametrize(("country", "size"), [("IE", A4_MM), ("US", LETTER_MM)])
def test_the_grid_fits_the_paper_of_the_country(
    live_scene: Scene, open_page: OpenPage, country: str, size: tuple[float, float]
) -> None:
    Club.objects.filter(pk=live_scene.club.pk).update(country=country)
    runners = [
        make_athlete(live_scene.club, f"Runner{number}", live_scene.group, account=False) for number in range(30)
    ]
    for runner in runners:
        SessionAthlete.objects.create(
            club=live_scene.club, training_session=live_scene.training_session, athlete=runner
        )
    live_scene.training_session.sheets.all().delete()
    make_sheet(live_scene.training_session, live_scene.coach, *runners)
    page = open_page(live_scene.coach, f"/coach/sessions/{live_scene.training_session.pk}/sheets/101", DESK)
    sheets = sheets_of(page.pdf(prefer_css_page_size=True))
    assert len(sheets) >= 2
    for sheet in sheets:
        assert sheet == pytest.approx(size, abs=1)
    page.emulate_media(media="print")
    foot = page.locator("table.sheet tfoot")
    expect(foot).to_be_visible()
    expect(foot).to_contain_text("Chalk Lane AC, Sheet 101. Printed")
    assert foot.evaluate("(one) => getComputedStyle(one).display") == "table-footer-group"  # on each page anew


def test_the_foot_is_on_paper_alone(live_scene: Scene, open_page: OpenPage) -> None:
    page = open_page(live_scene.coach, f"/coach/sessions/{live_scene.training_session.pk}/sheets/101", DESK)
    expect(page.locator("table.sheet tfoot")).to_be_hidden()


def test_each_form_of_an_evening_fits_a_sheet_of_its_own(live_scene: Scene, open_page: OpenPage) -> None:
    """The page that answers the press is fetched by nothing else: it has no address of its own."""
    page = open_page(live_scene.admin, "/admin/consents", DESK)
    page.get_by_role("button", name="Print 3 missing forms").click()
    expect(page.get_by_role("img", name="Opens the questions of this form")).to_have_count(3)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_load_state("networkidle")
    sheets = sheets_of(page.pdf(prefer_css_page_size=True))
    assert [sheet == pytest.approx(A4_MM, abs=1) for sheet in sheets] == [True] * 3
