"""Beside the straight, in a real Chromium: roll call, results in one tap, words, stop, a phone without signal."""

import json
import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from sessions.models import Caution, Entry, Focus, GroupSettings
from teamtrack.common.clock import today_in, utc_now
from tests.browser.conftest import PHONE, SMALL, OpenPage, once
from tests.entries import make_entry, pains_kept, see, tell
from tests.people import Scene, answer, make_feature, make_session

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ENTRIES, THUNDER = "**/entries", "**/thunder"
CASES = json.loads((Path(__file__).parents[1] / "core/running_order_cases.json").read_text())


@pytest.fixture
def track_scene(live_scene: Scene) -> Scene:
    """A week ago Bran told two of them; loose hands are in hand for all."""
    scene, today = live_scene, today_in(live_scene.club.timezone)
    hands = make_feature(scene.club, "loose_hands", "Loose hands")
    GroupSettings.objects.create(club=scene.club, group=scene.group, strides=8, rest_s=180)
    athletes = (scene.athlete, scene.child, scene.adult_athlete)
    for athlete in athletes:
        Focus.objects.create(
            club=scene.club, athlete=athlete, feature=hands, since=today - timedelta(7), set_by=scene.coach
        )
    before = make_session(scene.group, day=today - timedelta(days=2), athletes=athletes)
    tell(before, scene.child, scene.second_coach, 1, "hold a feather", "loose_hands")
    see(before, scene.child, scene.second_coach, 2, "held", "loose_hands")
    for stride in (1, 2, 3):
        see(before, scene.athlete, scene.second_coach, stride, "partly", "loose_hands")
        see(before, scene.adult_athlete, scene.second_coach, stride, "held")
    see(before, scene.adult_athlete, scene.second_coach, 4, "held")
    return scene


@pytest.fixture
def open_track(track_scene: Scene, open_page: OpenPage) -> Callable[..., Page]:
    def opened(person: Any, screen: dict[str, object] = PHONE) -> Page:
        return open_page(person, f"/coach/sessions/{track_scene.training_session.pk}", screen)

    return opened


def begin(page: Page) -> None:
    page.get_by_role("button", name="All here").click()
    expect(page.locator("[data-here]")).to_have_text("3 here")
    page.get_by_role("button", name="To the run").click()


def runner(page: Page) -> str:
    return page.locator("[data-name]").inner_text()


def rows(number: int = 0, **query: Any) -> list[Entry]:
    """The entries, once there are so many."""
    found = Entry.objects.filter(**query).order_by("seq")
    once(lambda: found.count() >= number)
    return list(found.all())


def sent(page: Page) -> None:
    expect(page.locator("#queue [data-signal-text]")).to_have_text("Saved")


def test_roll_call_all_here_then_exceptions(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    expect(page.get_by_role("heading", level=1)).to_have_text("Sprint technique")
    page.get_by_role("button", name="All here").click()
    page.get_by_role("group", name="Ivo Tester").get_by_role("button", name="left", exact=True).click()
    expect(page.locator("[data-here]")).to_have_text("2 here")
    expect(page.locator("[data-adults]")).to_have_text("Adults here: 2, wanted 2")
    page.get_by_role("button", name="One adult fewer").click()
    expect(page.locator("[data-adults]")).to_contain_text("1 of 2")
    sent(page)
    today = rows(4, kind="presence")
    assert [row.content["state"] for row in today] == ["came", "came", "came", "left"]
    assert {row.by_id for row in today} == {track_scene.coach.pk}


def test_at_the_end_each_minor_is_collected(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    page.get_by_role("button", name="All here").click()
    page.get_by_role("button", name="At the end: collected").click()
    expect(page.locator("[data-view=roll] [role=group]")).to_have_count(2)
    for name in ("Ivo Tester", "Noela Tester"):
        page.get_by_role("group", name=name).get_by_role("button", name="collected").click()
        expect(page.get_by_role("group", name=name)).to_have_count(0)
    expect(page.get_by_text("No minor is still here.")).to_be_visible()
    sent(page)
    assert [row.content["state"] for row in rows(5, kind="presence")][3:] == ["collected", "collected"]


def test_a_second_stop_stops_nobody_else(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    stop = page.locator("[data-stop]")
    stop.click()
    expect(page.get_by_role("heading", name="Ivo: stopped for today")).to_be_visible()
    expect(stop).to_be_hidden()
    page.get_by_role("button", name="Next runner").click()
    expect(page.get_by_role("button", name="STOP Noela Tester").first).to_be_visible()


def test_a_result_is_one_tap_and_the_next_runner_comes_by_itself(
    track_scene: Scene, open_track: Callable[..., Page]
) -> None:
    """The overlooked first: Ivo had one look last time, Noela three, Tam four."""
    page = open_track(track_scene.coach)
    begin(page)
    stage = page.get_by_role("region", name="Who runs now")
    expect(stage.get_by_role("heading", name="Ivo")).to_be_visible()
    expect(stage).to_contain_text("stride 1 of 8")
    expect(stage).to_contain_text("Loose hands")
    expect(stage).to_contain_text("hold a feather")
    expect(stage).to_contain_text("coach Bran, then held")
    order = []
    for word in ("Held", "Partly", "Not yet"):
        order.append(runner(page))
        page.get_by_role("button", name=word).click()
        expect(page.locator("[data-name]")).not_to_have_text(order[-1], use_inner_text=True)
        page.wait_for_timeout(450)
    assert order == ["IVO", "NOELA", "TAM"]
    expect(stage.get_by_role("heading", name="Ivo")).to_be_visible()
    expect(stage).to_contain_text("stride 2 of 8")
    expect(stage).to_contain_text("wants 3:00")
    sent(page)
    found = rows(3, training_session=track_scene.training_session, kind="observation")
    assert [(row.content["shown"], row.stride, row.content["feature"]) for row in found] == [
        ("held", 1, "loose_hands"),
        ("partly", 1, "loose_hands"),
        ("not_yet", 1, "loose_hands"),
    ]


def test_a_double_tap_counts_once_and_two_quick_results_are_for_two_runners(
    track_scene: Scene, open_track: Callable[..., Page]
) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="Held").dblclick()
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    sent(page)
    assert len(rows(1, training_session=track_scene.training_session, kind="observation")) == 1
    page.evaluate("document.querySelector('[data-result=partly]').click()")
    page.evaluate("document.querySelector('[data-result=not_yet]').click()")
    found = rows(3, training_session=track_scene.training_session, kind="observation")
    assert [(row.athlete.given_name, row.content["shown"]) for row in found] == [
        ("Ivo", "held"),
        ("Noela", "partly"),
        ("Tam", "not_yet"),
    ]


def test_a_failed_send_stays_in_sight_and_is_sent_again(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    sent(page)
    page.expected.append("ERR_FAILED")
    page.route(ENTRIES, lambda route: route.abort())
    page.get_by_role("button", name="Held").click()
    banner = page.locator("#queue .signal")
    expect(banner).to_contain_text("No signal")
    expect(banner).to_contain_text("1 saved here")
    banner.click()
    expect(page.get_by_role("list", name="Not yet sent").get_by_role("listitem")).to_have_text(
        ["Ivo result: kept on this phone until signal"]
    )
    assert rows(training_session=track_scene.training_session, kind="observation") == []
    page.unroute(ENTRIES)
    expect(banner).to_contain_text("Saved")
    assert len(rows(1, training_session=track_scene.training_session, kind="observation")) == 1


def test_thunder_counts_here_at_once_and_is_told_when_there_is_signal(
    track_scene: Scene, open_track: Callable[..., Page]
) -> None:
    """Half an hour from the last thunder (common practice, no source), on the phone that heard it and for the club."""
    page = open_track(track_scene.coach)
    page.expected.append("ERR_FAILED")
    note = page.locator("[data-thunder-note]")
    page.get_by_role("button", name="Numbers").click()
    expect(note).to_be_hidden()
    page.route(THUNDER, lambda route: route.abort())
    page.get_by_role("button", name="Thunder heard: everybody in").click()
    expect(note).to_contain_text(re.compile(r"Thunder heard at \d\d:\d\d Everybody goes .*: (30:00|29:\d\d) left"))
    expect(note).to_contain_text("On this phone alone: the others are told once it has signal")
    page.reload()
    expect(note).to_contain_text("On this phone alone: the others are told once it has signal")
    assert not Caution.objects.exists()
    page.unroute(THUNDER)
    expect(note).to_contain_text("It stands on Today for everybody")
    [heard] = Caution.objects.all()
    assert (heard.kind, heard.by, heard.taken_back_at) == ("thunder", track_scene.coach, None)
    assert utc_now() - timedelta(minutes=2) < heard.at < utc_now()
    other = open_track(track_scene.second_coach).locator("[data-thunder-note]")
    expect(other).to_contain_text("It stands on Today for everybody")
    expect(other.get_by_role("button", name="It was a slip")).to_be_hidden()
    note.get_by_role("button", name="It was a slip").click()
    expect(note).to_be_hidden()
    assert once(Caution.objects.filter(taken_back_at__isnull=False).exists)


def test_a_batch_whose_answer_was_lost_is_kept_once(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    page.expected.append("ERR_FAILED")
    lost = []

    def lose_the_answer(route: Route) -> None:
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch())
            route.abort()
        else:
            route.continue_()

    page.route(ENTRIES, lose_the_answer)
    page.get_by_role("button", name="All here").click()
    expect(page.locator("#queue [data-signal-text]")).to_have_text("Saved")
    assert len(lost) == 1
    assert len(rows(3, kind="presence")) == 3


def test_undo_takes_back_and_brings_the_runner_again(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="Held").click()
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("heading", name="Ivo")).to_be_visible()
    expect(page.locator("[data-stride]")).to_contain_text("stride 1 of 8")
    sent(page)
    result, back = rows(2, training_session=track_scene.training_session, kind="observation")
    assert (back.replaces, back.withdrawn) == (result.pk, True)


def test_words_used_before_in_two_taps_and_new_ones(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="Words", exact=True).click()
    page.get_by_role("button", name="Say again: “hold a feather”").click()
    expect(page.locator("[data-followed]")).to_have_text("told today, after stride 1")
    page.wait_for_timeout(450)
    page.get_by_role("button", name="Words", exact=True).click()
    page.get_by_label("New words").fill("soft thumbs")
    page.get_by_role("radio", name="other words").check()
    page.locator("[name='understood'][value='yes']").check()
    page.get_by_label("In the talk before").check()
    page.get_by_role("button", name="Save words").click()
    sent(page)
    first, second = rows(2, training_session=track_scene.training_session, kind="cue")
    assert (first.stride, first.content) == (
        1,
        {"feature": "loose_hands", "words": "hold a feather", "how": "told", "understood": "not_asked"},
    )
    assert (second.stride, second.content["how"], second.content["understood"]) == (0, "other_words", "yes")


def test_words_that_cannot_be_kept_stay_with_the_reason(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="Words", exact=True).click()
    page.get_by_label("New words").fill("   ")
    page.get_by_role("button", name="Save words").click()
    expect(page.get_by_role("alert").filter(has_text="cannot be kept")).to_be_visible()
    expect(page.get_by_label("New words")).to_have_value("   ")
    assert rows(training_session=track_scene.training_session, kind="cue") == []


def test_own_view_strength_and_other_point(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="Ask first").click()
    page.get_by_label("In their words").fill("felt quick")
    page.get_by_role("button", name="Partly").click()
    page.get_by_role("button", name="Good: Loose hands").click()
    expect(page.locator("[data-good-text]")).to_have_text("Good: Loose hands, noted")
    page.get_by_role("button", name="Other point").click()
    page.get_by_role("button", name="Tall hips").click()
    expect(page.locator("[data-point]")).to_have_text("Tall hips")
    page.get_by_role("button", name="Held").click()
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    sent(page)
    [view] = rows(1, kind="own_view")
    assert view.content == {"feature": "loose_hands", "shown": "partly", "words": "felt quick"}
    strength, result = rows(2, training_session=track_scene.training_session, kind="observation")
    assert (strength.content["type"], strength.content["feature"], strength.stride) == ("strength", "loose_hands", 1)
    assert (result.content["type"], result.content["feature"], result.stride) == ("adjustment", "tall_hips", 1)


def test_stop_is_one_tap_and_pain_is_not_asked_where_it_may_not_be_kept(
    track_scene: Scene, open_track: Callable[..., Page]
) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="STOP Ivo Tester").click()
    expect(page.get_by_role("heading", name="Ivo: stopped for today")).to_be_visible()
    expect(page.get_by_role("link", name="Call 112")).to_have_attribute("href", "tel:112")
    expect(page.get_by_role("button", name="Knee")).to_be_hidden()
    expect(page.get_by_text("Nothing is written down about it here.")).to_be_visible()
    sent(page)
    assert [row.athlete for row in rows(1, kind="stop")] == [track_scene.child]
    page.get_by_role("button", name="Next runner").click()
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    page.get_by_role("button", name="Order").click()
    expect(page.get_by_role("listitem").filter(has_text="Ivo")).to_contain_text("stopped")


def test_pain_is_one_more_touch_where_health_allows(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    for giver in (track_scene.athlete, track_scene.guardian):
        answer(track_scene.athlete, giver, names=(track_scene.coach,))
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="Order").click()
    page.get_by_role("button", name="STOP Noela Tester").first.click()
    page.get_by_role("button", name="Knee").click()
    expect(page.get_by_role("button", name="Knee")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Head").click()
    expect(page.get_by_role("link", name="Call 112")).to_be_focused()
    sent(page)
    assert [row.athlete for row in rows(1, kind="stop")] == [track_scene.athlete]
    rows(2, kind="pain")
    assert [(said["place"], entry.replaces is None) for entry, said in pains_kept()] == [
        ("knee", True),
        ("head", False),
    ]
    page.get_by_role("button", name="Undo stop").click()
    expect(page.get_by_role("heading", name="Noela", exact=True)).to_be_visible()
    sent(page)
    assert [row.withdrawn for row in rows(2, kind="stop")] == [False, True]
    assert [row.withdrawn for row in rows(3, kind="pain")] == [False, False, True]


def test_a_helper_under_18_is_never_asked_for_a_place(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    for giver in (track_scene.athlete, track_scene.guardian):
        answer(track_scene.athlete, giver, names=(track_scene.helper, track_scene.coach))
    page = open_track(track_scene.helper)
    begin(page)
    page.get_by_role("button", name="Order").click()
    page.get_by_role("button", name="STOP Noela Tester").first.click()
    expect(page.get_by_role("heading", name="Noela: stopped for today")).to_be_visible()
    expect(page.get_by_role("button", name="Knee")).to_be_hidden()


def test_by_round_marks_all_and_corrects(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="By round").click()
    page.get_by_role("button", name="Held Noela Tester").click()
    page.get_by_role("button", name="Not yet Noela Tester").click()
    page.get_by_role("button", name="Partly Ivo Tester").click()
    expect(page.get_by_role("button", name="Not yet Noela Tester")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_role("button", name="Held Noela Tester")).to_have_attribute("aria-pressed", "false")
    page.get_by_role("button", name="One by one").click()
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("[data-undone]")).to_contain_text("Noela")
    sent(page)
    held, not_yet, partly, _back = rows(4, training_session=track_scene.training_session, kind="observation")
    assert (not_yet.replaces, not_yet.stride, partly.stride) == (held.pk, 1, 1)


def test_two_phones_and_a_result_hidden_before_ones_own(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    """Both watch Ivo's first stride; the second coach's page stays at it when the first one's result arrives."""
    first = open_track(track_scene.coach)
    begin(first)
    sent(first)
    second = open_track(track_scene.second_coach)
    expect(second.get_by_role("heading", name="Ivo")).to_be_visible()
    with second.expect_response(lambda response: "entries?after" in response.url and b"held" in response.body()):
        first.get_by_role("button", name="Held").click()
    expect(first.get_by_role("heading", name="Noela")).to_be_visible()
    expect(second.get_by_role("heading", name="Ivo")).to_be_visible()
    expect(second.locator("[data-stride]")).to_contain_text("stride 1 of 8")
    second.get_by_role("button", name="Partly").click()
    sent(second)
    found = rows(training_session=track_scene.training_session, kind="observation")
    assert [(row.by_id, row.stride) for row in found] == [
        (track_scene.coach.pk, 1),
        (track_scene.second_coach.pk, 1),
    ]


def test_a_stop_by_another_hand_reaches_this_phone(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    sent(page)
    make_entry_after_all(track_scene)
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    expect(page.get_by_role("heading", name="Ivo")).to_be_hidden()


def make_entry_after_all(scene: Scene) -> None:
    """By the child's own phone; its seq is the next of this session."""
    scene.training_session.refresh_from_db()
    row = make_entry(scene.training_session, "stop", scene.child, scene.child)
    Entry.objects.filter(pk=row.pk).update(seq=scene.training_session.last_seq + 1)


def test_what_was_recorded_is_there_after_loading_again(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="Held").click()
    sent(page)
    page.reload()
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    expect(page.locator("[data-then]")).to_contain_text("Ivo 2:5")


def test_without_signal_at_the_start_it_is_said_and_tried_again(track_scene: Scene, open_page: OpenPage) -> None:
    page = open_page(track_scene.coach, "/today")
    page.expected.append("ERR_FAILED")
    page.route("**/api/v1/sessions/*", lambda route: route.abort())
    page.get_by_role("link", name="Start Sprint technique").click()
    expect(page.get_by_text("The session could not be loaded.")).to_be_visible()
    page.unroute("**/api/v1/sessions/*")
    expect(page.get_by_role("heading", name="Roll call")).to_be_visible()


def test_left_hand_is_kept_on_the_phone(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    stop = page.get_by_role("button", name="STOP Ivo Tester")
    right = stop.bounding_box()
    page.get_by_role("button", name="Left hand").click()
    left = stop.bounding_box()
    assert left["x"] < right["x"] - 100
    page.reload()
    expect(page.locator("#trackside")).to_have_attribute("data-hand", "left")


def test_results_and_stop_are_big_enough_and_whole_at_320_px(
    track_scene: Scene, open_track: Callable[..., Page]
) -> None:
    """Targets: session screens 64 px, results 80 px high, 12 px apart."""
    page = open_track(track_scene.coach, SMALL)
    begin(page)
    boxes = [page.get_by_role("button", name=name).bounding_box() for name in ("Held", "Partly", "Not yet")]
    assert min(box["height"] for box in boxes) >= 80
    assert min(box["width"] for box in boxes) >= 64
    assert boxes[1]["x"] - boxes[0]["x"] - boxes[0]["width"] >= 10
    stop = page.get_by_role("button", name="STOP Ivo Tester").bounding_box()
    assert min(stop["height"], stop["width"]) >= 64
    assert page.get_by_role("button", name="Not yet").bounding_box()["y"] + 80 <= 640
    for tab in ("Run", "Order", "Roll call", "Numbers"):
        page.get_by_role("navigation", name="Views").get_by_role("button", name=tab).click()
        assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def test_a_visitor_is_counted_on_this_phone_alone(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    page.get_by_label("First name").fill("Kit")
    page.get_by_role("button", name="Count in").click()
    expect(page.locator("[data-here]")).to_have_text("0 here, visitors: 1")
    page.get_by_role("button", name="One adult more").click()
    page.reload()
    expect(page.get_by_role("group", name="Kit")).to_be_visible()
    expect(page.locator("[data-adults]")).to_have_text("Adults here: 3, wanted 2")
    assert Entry.objects.filter(training_session=track_scene.training_session).count() == 0
    page.goto(f"{page.url}/summary")
    expect(page.get_by_label("Adults here")).to_have_value("3")
    expect(page.get_by_label("Visitors")).to_have_value("1")
    page.expected.append("ERR_INTERNET_DISCONNECTED")
    page.context.set_offline(True)
    page.get_by_role("button", name="Close", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text(["Closing needs signal: the session is not closed yet."])
    expect(page.get_by_label("Adults here")).to_have_value("3")
    page.context.set_offline(False)
    page.wait_for_timeout(450)
    page.get_by_role("button", name="Close", exact=True).click()
    expect(page.get_by_text("Closed by Rona")).to_be_visible()
    key = f"own {track_scene.coach.pk} {track_scene.training_session.pk}"
    page.evaluate("(key) => localStorage.setItem(key, JSON.stringify({day: '2020-01-01', value: {adults: 9}}))", key)
    page.get_by_role("link", name="Back to the session").click()
    expect(page.locator("[data-adults]")).to_have_text("Adults here: 2, wanted 2")


def test_the_order_says_when_it_ends_what_to_cut_and_is_changed_by_hand(
    track_scene: Scene, open_track: Callable[..., Page]
) -> None:
    session = track_scene.training_session
    session.ends_at = utc_now() + timedelta(minutes=15)
    session.starts_at = session.ends_at - timedelta(hours=1)
    session.save()
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("navigation", name="Views").get_by_role("button", name="Order").click()
    expect(page.locator("[data-end]")).to_contain_text("minutes over: cut")
    page.get_by_role("button", name="for each").click()
    expect(page.locator("[data-end]")).not_to_contain_text("over")
    page.get_by_role("button", name="Change order").click()
    page.get_by_role("button", name="Move Tam Tester up").click()
    page.wait_for_timeout(450)
    page.get_by_role("button", name="Move Tam Tester up").click()
    page.get_by_role("button", name="Leave Ivo Tester out of the order").click()
    names = page.locator("[data-view=order] ul.rows strong")
    expect(names).to_have_text(["Tam", "Noela", "Ivo"])
    page.reload()
    page.get_by_role("navigation", name="Views").get_by_role("button", name="Order").click()
    expect(names).to_have_text(["Tam", "Noela", "Ivo"])
    page.get_by_role("button", name="Back to order by rest").click()
    expect(names).to_have_text(["Ivo", "Noela", "Tam"])


def test_two_versions_stand_side_by_side_until_one_is_tapped(
    track_scene: Scene, open_track: Callable[..., Page]
) -> None:
    scene, session = track_scene, track_scene.training_session
    for athlete in (scene.athlete, scene.child):
        make_entry(session, "presence", athlete, scene.coach, state="came")
    first = make_entry(session, "cue", scene.child, scene.coach, stride=1, feature="tall_hips", words="a", how="told")
    for by, words in ((scene.coach, "grow tall"), (scene.second_coach, "hips up")):
        own = {"feature": "tall_hips", "words": words, "how": "told", "understood": "yes"}
        make_entry(session, "cue", scene.child, by, stride=1, replaces=first, **own)
    page = open_track(scene.coach)
    page.get_by_role("button", name="Look", exact=True).click()
    page.get_by_role("button", name="“hips up”, Bran").click()
    expect(page.get_by_text("Two versions of one entry")).to_be_hidden()
    sent(page)
    [withdrawn] = rows(1, kind="cue", withdrawn=True)
    assert Entry.objects.get(pk=withdrawn.replaces).content["words"] == "grow tall"


def test_the_others_result_comes_after_ones_own(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    scene = track_scene
    for athlete in (scene.athlete, scene.child):
        make_entry(scene.training_session, "presence", athlete, scene.coach, state="came")
    page = open_track(scene.coach)
    expect(page.get_by_role("heading", name="Ivo")).to_be_visible()
    see(scene.training_session, scene.child, scene.second_coach, 1, "partly", "loose_hands")
    expect(page.locator("[data-other-eyes]")).to_have_text("")
    page.get_by_role("button", name="Held").click()
    expect(page.locator("[data-other-eyes]")).to_have_text("Ivo, stride 1: coach Bran partly")


def test_times_are_off_at_first_and_two_taps_when_on(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    begin(page)
    expect(page.get_by_role("button", name="Line", exact=True)).to_be_hidden()
    page.get_by_role("button", name="Times").click()
    page.get_by_role("button", name="Start", exact=True).click()
    page.get_by_role("button", name="Step +1").click()
    page.wait_for_timeout(500)
    page.get_by_role("button", name="Step +1").click()
    page.get_by_role("button", name="Line", exact=True).click()
    sent(page)
    expect(page.get_by_role("heading", name="Ivo")).to_be_visible()
    expect(page.locator("[data-steps]")).to_have_text("2")
    [run] = rows(1, kind="run")
    assert 0.5 <= run.content["time_s"] < 30
    assert (run.content["steps"], run.stride) == (2, 1)
    assert run.content["crossed_at"] > run.content["started_at"]


def test_ten_seconds_to_undo_in_every_view(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    page = open_track(track_scene.coach)
    page.get_by_role("button", name="All here").click()
    bar = page.locator("[data-undo-bar]")
    expect(bar).to_contain_text("All here")
    bar.get_by_role("button", name="Undo").click()
    expect(page.locator("[data-here]")).to_have_text("0 here")


def test_several_at_once_have_a_lane_each(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    """Three at once: a result goes on to the next lane, any lane is one tap, the unwatched have run in one."""
    GroupSettings.objects.update(at_once=3)
    page = open_track(track_scene.coach)
    begin(page)
    lanes = page.get_by_role("list", name="Running at once")
    expect(lanes.get_by_role("listitem")).to_have_text(["1 Ivo", "2 Noela", "3 Tam"])
    page.get_by_role("button", name="Held").click()
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    page.get_by_role("button", name="Lane 3: Tam Tester").click()
    page.get_by_role("button", name="Partly").click()
    expect(lanes.get_by_role("listitem")).to_have_text(["1 Ivoheld", "2 Noela", "3 Tampartly"])
    page.get_by_role("button", name="The others ran too").click()
    expect(page.locator("[data-stride]")).to_contain_text("stride 2 of 8")
    sent(page)
    found = rows(3, training_session=track_scene.training_session, kind__in=("observation", "run"))
    assert [(row.athlete.given_name, row.kind, row.stride) for row in found] == [
        ("Ivo", "observation", 1),
        ("Tam", "observation", 1),
        ("Noela", "run", 1),
    ]
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("button", name="Lane 2: Noela Tester")).to_have_attribute("aria-current", "true")


def test_a_talk_tells_all_who_are_here_in_one_tap(track_scene: Scene, open_track: Callable[..., Page]) -> None:
    """Nobody has run but Ivo: the words stand after his stride 1, with the others before the first."""
    page = open_track(track_scene.coach)
    begin(page)
    page.get_by_role("button", name="Held").click()
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    page.get_by_role("button", name="Talk to all").first.click()
    expect(page.get_by_role("heading", name="Talk to all, 3 here")).to_be_visible()
    page.get_by_label("Words to all").fill("soft thumbs")
    page.get_by_role("button", name="Tell all").click()
    expect(page.get_by_role("heading", name="Noela")).to_be_visible()
    page.wait_for_timeout(450)
    page.get_by_role("button", name="Talk to all").first.click()
    page.get_by_role("button", name="Say again: “soft thumbs”").click()
    sent(page)
    found = rows(6, training_session=track_scene.training_session, kind="cue")
    assert sorted((row.athlete.given_name, row.stride) for row in found[:3]) == [("Ivo", 1), ("Noela", 0), ("Tam", 0)]
    assert {row.content["words"] for row in found} == {"soft thumbs"}
    page.get_by_role("button", name="Undo").click()
    assert len(rows(3, kind="cue", withdrawn=True)) == 3


HAND = """async (address) => {
  const { byHand, endsIn, moved, strideCut } = await import(address);
  const one = { left: 5, wait_s: 0, wants_rest_s: 180 };
  const eight = Array.from({ length: 8 }, () => ({ ...one, left: 2 }));
  const order = ["a", "b", "c"].map((id) => ({ id, wait_s: 0 }));
  const hand = moved(order, "c", -1, () => 0);
  const ids = (done) => byHand(order, hand, (id) => done[id] ?? 0).map(({ id }) => id).join("");
  return [endsIn([one], 1), endsIn(eight, 1), endsIn(eight, 2), strideCut(eight, 1, 360), strideCut(eight, 1, 359),
    ids({}), ids({ a: 1 }), byHand(order, null, () => 0).length, endsIn([], 1)];
}"""


def test_the_end_and_the_hand_made_order_by_numbers_worked_out_by_hand(live_scene: Scene, open_page: OpenPage) -> None:
    """Eight runners at 45 s a turn rest 7 x 45 = 315 s each, over the 180 s wanted, so two rounds take 16 turns: 720 s.

    One runner alone starts every 180 s: four rests and a turn. One stride fewer leaves one round, 360 s.
    """
    page = open_page(None, "/sign-in")
    found = page.evaluate(HAND, "/static/js/trackside/hand.js")
    assert found == [4 * 180 + 45, 720, 360, 1, 2, "acb", "cba", 3, 0]


ORDER = """async (address) => {
  const { runningOrder } = await import(address);
  const { CASES } = window;
  return CASES.map(({ runners }) => runningOrder(runners).map(({ id, wait_s }) => [id, wait_s]));
}"""


def test_the_pages_order_is_the_servers(live_scene: Scene, open_page: OpenPage) -> None:
    page = open_page(None, "/sign-in")
    page.evaluate("(cases) => { window.CASES = cases }", CASES)
    found = page.evaluate(ORDER, "/static/js/trackside/order.js")
    assert found == [case["order"] for case in CASES]
