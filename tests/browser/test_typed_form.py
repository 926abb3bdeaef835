"""A form without signal: nothing is sent, what was typed stays, and it goes once there is signal, once."""

from datetime import timedelta

import pytest

from athletes.models import GroupMembership, Mark, PeopleStep, Person
from teamtrack.common.clock import now_in
from tests.browser.conftest import DESK, PHONE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_what_was_typed_stays_without_signal_and_goes_once(live_scene, open_page):
    page = open_page(live_scene.admin, "/admin/athletes/new", DESK)
    page.expected = ["ERR_INTERNET_DISCONNECTED"]
    page.get_by_label("Given name").fill("Nova")
    page.get_by_label("Family name").fill("Tester")
    page.get_by_label("The family was given the notice").evaluate("(box) => box.click()")
    page.context.set_offline(True)
    page.get_by_role("button", name="Add").click()
    page.get_by_text("What you typed stays here").wait_for()
    assert page.get_by_label("Given name").input_value() == "Nova"
    assert not Person.objects.filter(given_name="Nova").exists()
    page.context.set_offline(False)
    page.wait_for_timeout(500)  # a second press within 0.4 s does not count
    page.get_by_role("button", name="Add").dblclick()
    page.get_by_text("is on the roster").wait_for()
    assert Person.objects.filter(given_name="Nova").count() == 1


@pytest.mark.parametrize(
    ("who", "place"),
    [("athlete", "/athlete/requests"), ("head_coach", "/head-coach/venues/new"), ("coach", "/me/password")],
)
def test_of_any_form_what_was_typed_stays_without_signal(live_scene, open_page, who, place):
    page = open_page(getattr(live_scene, who), place, PHONE)
    page.expected = ["ERR_INTERNET_DISCONNECTED"]
    typed = page.locator("main form[method=post]").filter(has=page.locator("textarea, input:not([type=hidden])")).first
    box = typed.locator("textarea, input:not([type=hidden])").first
    said = "2027-05-28" if box.get_attribute("type") == "date" else "Words typed"
    box.fill(said)
    page.context.set_offline(True)
    typed.locator("button").first.click()
    page.get_by_text("What you typed stays here").wait_for()
    assert page.url.endswith(place) and box.input_value() == said
    page.context.set_offline(False)


def test_back_after_a_refusal_shows_the_page_and_sends_nothing(live_scene, open_page):
    place = f"/admin/athletes/{live_scene.athlete.pk}"
    page = open_page(live_scene.admin, place, DESK)
    page.expected = ["400"]
    page.get_by_text("Leaves the club, or goes to another club").click()
    leaves, day = page.get_by_role("button", name="Leaves"), page.locator("form[action$=leave] input[type=date]")
    day.fill("")
    leaves.click()
    page.get_by_text("This field is required.").wait_for()
    assert page.url.endswith(place)
    day.fill((now_in(live_scene.club.timezone) + timedelta(days=20)).date().isoformat())
    leaves.click()
    page.get_by_text("The membership ends with").first.wait_for()
    page.go_back()
    page.get_by_role("heading", level=1).wait_for()
    assert page.url.endswith(place) and PeopleStep.objects.count() == 1


def test_back_after_a_submit_sends_nothing_again(live_scene, open_page):
    """Back shows the form, pressing once more is harmless: refused in words, or the same row."""
    athlete = live_scene.athlete
    page = open_page(live_scene.admin, "/admin/athletes/new", DESK)
    page.expected = ["409"]  # the second time it is refused
    for _twice in range(2):
        page.get_by_label("Given name").fill("Nova")
        page.get_by_label("Family name").fill("Tester")
        page.get_by_label("The family was given the notice").evaluate("(box) => { box.checked = true; }")
        page.get_by_role("button", name="Add").click()
        page.get_by_text("is on the roster").or_(page.get_by_text("is here already")).first.wait_for()
        page.go_back()
        page.get_by_role("button", name="Add").wait_for()
    assert Person.objects.filter(given_name="Nova").count() == 1
    page.goto(f"/admin/athletes/{athlete.pk}")
    for _twice in range(2):
        page.get_by_text("Put into an event group").click()
        page.locator("#group-group").select_option(str(live_scene.other_group.pk))
        page.get_by_role("button", name="Put in").click()
        page.get_by_text("The group is set.").or_(page.get_by_text("It was so already")).first.wait_for()
        page.go_back()
        page.get_by_text("Put into an event group").wait_for()
    assert GroupMembership.objects.filter(athlete=athlete, group=live_scene.other_group).count() == 1
    page = open_page(live_scene.coach, f"/coach/athletes/{athlete.pk}/marks", PHONE)
    for _twice in range(2):
        if not page.locator("#mark-time").is_visible():
            page.get_by_text("Enter a mark").click()
        page.locator("#mark-time").fill("12.64")
        page.get_by_role("button", name="Enter", exact=True).click()
        page.get_by_text("is kept.").first.wait_for()
        page.go_back()
        page.get_by_text("Enter a mark").wait_for()
    assert Mark.objects.filter(athlete=athlete).count() == 1
