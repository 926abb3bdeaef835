"""Every page: whole at 320 px, with the keyboard alone, without a fault for assistive technology or the policy."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse

from athletes.models import Wording
from athletes.services.form_codes import make_form
from athletes.services.holds import set_hold
from athletes.services.keep import begin_night, keep
from athletes.services.wordings import write_wording
from athletes.viewer import viewer_for
from sessions.models import Availability
from teamtrack.common.clock import utc_now
from tests.browser.conftest import DESK, SMALL
from tests.doors import FILES, OF_PERSON, OF_ROLE, PARTS
from tests.people import answer
from tests.sizes import LONG
from tests.test_doors import BY_NAME, address

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGES = sorted(
    [
        (min(people), name)
        for name, people in (OF_ROLE | OF_PERSON).items()
        if people and not name.startswith("api-") and name not in PARTS | FILES
    ]
    + [(who, "today") for who in ("coach", "head_coach", "athlete", "guardian")]
    + [("head_coach", "own-calendar")]
    + [("welfare", name) for name in ("my-sign-ins", "my-password", "my-factors", "factor-app", "factor-passkey")]
)
DESK_SIZE = DESK["viewport"]
TOO_WIDE = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
# A list that is drawn anew meanwhile has new elements that look the same: by look, how many were reached.
REACH = """() => {
  window.reached = new Map();
  document.addEventListener("focusin", ({ target: one }) => {
    window.reached.set(one.outerHTML, (window.reached.get(one.outerHTML) ?? new Set()).add(one));
  });
}"""
UNREACHED = """() => {
  const seen = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex='0']")]
    .filter((one) => !one.disabled && one.type !== "hidden" && one.checkVisibility({ visibilityProperty: true }));
  const reached = (one) => window.reached.get(one.outerHTML)?.size ?? 0;
  const radios = new Set(seen.filter((one) => one.type === "radio" && reached(one)).map((one) => one.name));
  const alike = (one) => seen.filter((other) => other.outerHTML === one.outerHTML).length;
  return seen.filter((one) => reached(one) < alike(one) && !radios.has(one.name)).map((one) => one.outerHTML);
}"""


def place_of(name, scene):
    return address(name, scene) if BY_NAME[name].pattern.converters else reverse(name)


@pytest.mark.parametrize("who", sorted({who for who, _name in PAGES}))
def test_a_page_is_whole_and_without_a_fault(live_scene, open_page, who):
    page, faults = open_page(getattr(live_scene, who), "/", SMALL), {}
    for number, name in enumerate(name for one, name in PAGES if one == who):
        page.goto(place_of(name, live_scene))
        faults[name] = faults_of(page, asked=(LONG or number % 2 == 0, LONG or number % 2 == 1))
    assert {name: found for name, found in faults.items() if found} == {}


FULL = {
    "keeping": "/admin/keeping",
    "rules": "/admin/rules",
    "consents": "/admin/consents",
    "a family's form": "/admin/consents/{guardian}",
    "a printed form": "/admin/consents/{guardian}",
    "one request": "/admin/requests/{request}",
}


@pytest.mark.parametrize("name", sorted(FULL))
def test_an_admin_s_page_with_much_on_it_is_whole_and_without_a_fault(live_scene, open_page, name):
    much_for_the_admin(live_scene)
    place = FULL[name].format(guardian=live_scene.guardian.pk, request=live_scene.data_request.pk)

    page = open_page(live_scene.admin, place, SMALL)
    page.evaluate("() => document.querySelectorAll('details.fold').forEach((one) => { one.open = true })")
    if name == "a printed form":
        page.get_by_role("button", name="Print a form").click()
        page.wait_for_selector("code")
    assert faults_of(page) == []


@pytest.mark.parametrize("far", [0, 1, 2])
def test_the_pages_of_a_code_are_whole_and_the_code_leaves_the_address(live_scene, open_page, far):
    """The code typed for us, the questions, and what was kept."""

    _form, code = make_form(viewer=viewer_for(live_scene.admin, "admin"), person_id=live_scene.guardian.pk)
    page = open_page(None, f"/form#{code.shown}", SMALL)
    assert page.url.endswith("/form")
    if far:
        page.get_by_role("button", name="Show the questions").click()
        page.wait_for_selector("fieldset")
    if far == 2:
        page.get_by_role("radio", name="No", exact=True).first.check()
        page.get_by_role("button", name="Send my answers").click()
        page.wait_for_selector("h1:has-text('kept')")
    assert faults_of(page) == []


def much_for_the_admin(scene):
    """Rows that wait, a hold, a new wording, an answer by code."""
    admin, ends = viewer_for(scene.admin, "admin"), utc_now() - timedelta(days=16)
    Availability.objects.bulk_create(
        Availability(
            club=scene.club, athlete=scene.athlete, starts_at=ends, ends_at=ends, state="run", said_by=scene.athlete,
            said_as="athlete", said_at=ends,
        )
        for _ in range(60)
    )  # fmt: skip
    keep(run_id=begin_night(club=scene.club, day=admin.today).pk)
    set_hold(viewer=admin, athlete_id=scene.child.pk, reference="Folder B, 12", review_on=admin.today + timedelta(5))
    old = Wording.objects.get(club=scene.club, purpose="health", child_level=False)
    text = {"question": old.question + "?", "explanation": old.explanation[:-20] + " It goes after 12 months."}
    write_wording(viewer=admin, purpose="health", child_level=False, is_material=True, **text)
    answer(scene.child, scene.guardian, "feed", evidence=1)


def faults_of(page, asked=(True, True)):
    """What is wrong on a small phone in light, with text twice as large, and at the size of a desk in dark; `asked`
    tells in which of the two the rules for assistive technology are gone through (of many pages by turns: each takes
    a second)."""
    page.set_viewport_size(SMALL["viewport"])
    page.emulate_media(color_scheme="light", reduced_motion="reduce")
    faults = [*_too_wide(page, "small"), *(_for_assistive_technology(page) if asked[0] else [])]
    page.evaluate("() => { document.documentElement.style.fontSize = '200%' }")
    faults += _too_wide(page, "text twice as large")
    page.evaluate("() => { document.documentElement.style.fontSize = '' }")
    page.set_viewport_size(DESK_SIZE)
    page.emulate_media(color_scheme="dark", reduced_motion="reduce")
    faults += [*_too_wide(page, "desk"), *(_for_assistive_technology(page) if asked[1] else [])]
    return [*faults, *_not_reached_by_keyboard(page)]


def _too_wide(page, where):
    too_wide = page.evaluate(TOO_WIDE)
    return [f"{where}: {too_wide} px too wide"] if too_wide > 0 else []


def _for_assistive_technology(page):
    report = Axe().run(page)
    return [report.generate_report()] if report.violations_count else []


def _not_reached_by_keyboard(page):
    page.evaluate(REACH)
    pressed = 0
    while pressed < (there := page.locator("a, button, input, select, textarea, summary, [tabindex]").count() + 2):
        for _ in range(there - pressed):
            page.keyboard.press("Tab")
        pressed = there
    return page.evaluate(UNREACHED)
