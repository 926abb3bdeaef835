"""Venues and helpers: straights, hours, closings, evenings; what the planner reads of them; undo; two at once."""

import re
from datetime import date, datetime, time, timedelta
from html import unescape
from zoneinfo import ZoneInfo

import pytest

from athletes.models import AccessLogEntry, Club
from athletes.viewer import viewer_for
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.models import CoachAbsence, CoachEvening, CoachSettings, GroupSettings, Venue, VenueClosing, VenueOpening
from sessions.selectors.planned_places import planned_coaches, planned_venues
from sessions.selectors.planning_problem import build_problem
from sessions.selectors.public_holidays import public_holidays
from sessions.services.make_week import make_week
from teamtrack.common.clock import today_in
from tests.people import make_venue
from tests.planning import make_plan_scene, place

pytestmark = pytest.mark.django_db
STRAIGHT = {
    "name": "Kiln Yard", "straight_cm": "110", "roll_in_cm": "20", "run_out_cm": "15", "lanes": "6", "surface": "grass",
    "latitude": "53.4", "longitude": "-7.9",
}  # fmt: skip


@pytest.fixture
def head(scene, signed_in):
    return signed_in(scene.head_coach)


def offered(client, page):
    """The undo that the next page offers: its address and fields."""
    text = client.get(page).content.decode()
    form = re.search(r'data-undo.*?<form method="post" action="([^"]+)">(.*?)</form>', text, re.S)
    assert form is not None, "nothing to undo"
    fields = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form[2])
    return unescape(form[1]), {name: unescape(value) for name, value in fields}


def shown(client, page):
    return re.search(r'name="shown" value="([^"]+)"', client.get(page).content.decode())[1]


def next_week(scene):
    viewer = viewer_for(scene.head_coach, "head_coach")
    return viewer, IsoWeek(monday_of(viewer.today) + timedelta(days=7), viewer.now.tzinfo)


def open_hours(scene, venue):
    viewer, week = next_week(scene)
    planned = planned_venues(viewer=viewer, week=week)[venue.pk]
    return [tuple(f"{one.astimezone(week.zone):%a %H:%M}" for one in stretch) for stretch in planned.open]


def free(scene, coach):
    viewer, week = next_week(scene)
    planned = planned_coaches(viewer=viewer, week=week, coach_ids=[coach.pk])[coach.pk]
    return [tuple(f"{one.astimezone(week.zone):%a %H:%M}" for one in stretch) for stretch in planned.available]


def test_a_straight_is_added_with_its_hours_and_the_planner_knows_it(scene, head):
    answer = head.post("/head-coach/venues/new", STRAIGHT)
    venue = Venue.objects.get(name="Kiln Yard")
    assert (answer.status_code, answer["Location"]) == (302, f"/head-coach/venues/{venue.pk}")
    assert (venue.straight_cm, venue.roll_in_cm, venue.run_out_cm, venue.surface) == (11000, 2000, 1500, "grass")
    assert (venue.has_lights, venue.latitude) == (False, 53.4)
    assert head.post("/head-coach/venues/new", STRAIGHT).status_code == 400
    assert Venue.objects.filter(name="Kiln Yard").count() == 1
    page = f"/head-coach/venues/{venue.pk}"
    given = {"weekdays": ["2", "4"], "starts": "09:00", "ends": "11:00"}
    assert head.post(f"{page}/hours", given).status_code == 302
    assert head.post(f"{page}/hours", given).status_code == 302
    assert open_hours(scene, venue) == [("Tue 09:00", "Tue 11:00"), ("Thu 09:00", "Thu 11:00")]
    lines = AccessLogEntry.objects.order_by("seq").values_list("verb", "kind")
    assert list(lines)[-2:] == [("made", "venue"), ("made", "venue_hours")]


def test_whole_yards_come_back_as_they_were_typed(scene, head):
    Club.objects.update(distance_unit="yd")
    head.post("/head-coach/venues/new", STRAIGHT)
    venue = Venue.objects.get(name="Kiln Yard")
    assert venue.straight_cm == 10058  # 110 yd of 0.9144 m (NIST SP 811, appendix B)
    assert 'name="straight_cm" value="110"' in head.get(f"/head-coach/venues/{venue.pk}").content.decode()
    assert "110 yd with 20 before and 15 after" in head.get("/head-coach/venues").content.decode()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"straight_cm": "10"}, "Write a whole number, from 20 to 400 m."),
        ({"name": ""}, "This field is required."),
        ({"longitude": ""}, "Give both, or leave both empty."),
        ({"latitude": "95"}, "less than or equal to 90"),
        ({"lanes": "0"}, "greater than or equal to 1"),
    ],
)
def test_what_is_typed_wrong_is_said_and_stays(head, typed, said):
    answer = head.post("/head-coach/venues/new", STRAIGHT | typed)
    text = answer.content.decode()
    assert (answer.status_code, said in text, 'value="15"' in text) == (400, True, True)


def test_two_who_change_a_venue_lose_nothing_and_a_change_is_undone(scene, signed_in, head):
    page = f"/head-coach/venues/{scene.venue.pk}"
    first, second = shown(head, page), shown(head, page)
    typed = STRAIGHT | {"name": "Straight A", "has_lights": "on"}
    assert head.post(page, typed | {"shown": first, "lanes": "5"}).status_code == 302
    action, fields = offered(head, page)
    refused = head.post(page, typed | {"shown": second, "lanes": "4"})
    assert (refused.status_code, "Somebody changed this venue" in refused.content.decode()) == (409, True)
    assert Venue.objects.get(pk=scene.venue.pk).lanes == 5
    head.post(action, fields)
    assert (Venue.objects.get(pk=scene.venue.pk).lanes, Venue.objects.get(pk=scene.venue.pk).straight_cm) == (8, 13000)
    assert head.post(page, typed | {"shown": "made up"}).status_code == 400


def test_a_venue_added_by_a_slip_goes_again_and_one_in_use_stays(scene, head):
    head.post("/head-coach/venues/new", STRAIGHT)
    action, fields = offered(head, "/head-coach/venues")
    assert head.post(action, fields).status_code == 302
    assert not Venue.objects.filter(name="Kiln Yard").exists()
    assert head.post(f"/head-coach/venues/{scene.venue.pk}/remove").status_code == 400
    assert Venue.objects.filter(pk=scene.venue.pk).exists()


def test_a_day_is_closed_in_two_taps_the_planner_told_and_the_drafts_named(signed_in):
    plan = make_plan_scene()
    head = signed_in(plan.scene.head_coach)
    head.post(f"/head-coach/week/{IsoWeek(plan.monday, plan.zone).label}/make")
    place(plan.demand("hard"), plan.at(1, 18), plan.scene.coach)
    venue, day = plan.scene.venue, plan.monday + timedelta(days=1)
    page = f"/head-coach/venues/{venue.pk}"
    before = open_hours(plan.scene, venue)
    head.post(f"{page}/closings", {"first_day": day.isoformat(), "reason": "Water"})
    head.post(f"{page}/closings", {"first_day": day.isoformat(), "reason": "Water"})
    assert VenueClosing.objects.count() == 1
    assert open_hours(plan.scene, venue) == [one for one in before if not one[0].startswith("Tue")]
    text = head.get(page).content.decode()
    assert "1 planned session lies then: Sprint hard, Tue" in text
    head.post(f"{page}/closings", {"remove": str(VenueClosing.objects.get().pk)})
    assert open_hours(plan.scene, venue) == before
    action, fields = offered(head, page)
    head.post(action, fields)
    assert [one for one in open_hours(plan.scene, venue) if one[0].startswith("Tue")] == []


def test_a_group_that_strides_farther_than_the_straight_has_no_technique_there(signed_in):
    """Of 100 m with 20 m before and 17 m after 63 m are left: strides of 63 m fit, of 64 m not."""
    plan = make_plan_scene()
    head = signed_in(plan.scene.head_coach)
    Venue.objects.filter(pk=plan.scene.venue.pk).update(straight_cm=10000)
    GroupSettings.objects.create(club=plan.scene.club, group=plan.scene.group, run_cm=6300)
    week = make_week(viewer=plan.viewer, monday=plan.monday)
    assert build_problem(viewer=plan.viewer, week=week).left_out == {}
    GroupSettings.objects.update(run_cm=6400)
    assert build_problem(viewer=plan.viewer, week=week).left_out == {plan.demand("technique").pk: "too_short"}
    assert "a stride of 63 m fits" in head.get(f"/head-coach/venues/{plan.scene.venue.pk}").content.decode()


def test_hours_taken_away_come_back_with_their_days(scene, head):
    page = f"/head-coach/venues/{scene.venue.pk}"
    given = {"weekdays": ["3"], "starts": "16:00", "ends": "18:00", "first_day": "2020-01-01", "last_day": "2099-01-01"}
    head.post(f"{page}/hours", given)
    row = VenueOpening.objects.get()
    head.post(f"{page}/hours", {"remove": str(row.pk)})
    assert VenueOpening.objects.count() == 0
    action, fields = offered(head, page)
    head.post(action, fields)
    back = VenueOpening.objects.get()
    assert (back.weekday, back.starts, back.last_day.isoformat()) == (3, time(16), "2099-01-01")


def test_a_coach_sets_an_evening_with_two_taps_and_the_planner_knows(scene, signed_in):
    coach = signed_in(scene.coach)
    assert "My evenings" in coach.get("/today").content.decode()
    coach.post("/coach/evenings", {"day": "3"})
    coach.post("/coach/evenings", {"day": "3"})
    assert free(scene, scene.coach) == [("Wed 17:00", "Wed 21:00")]
    action, fields = offered(coach, "/coach/evenings")
    coach.post(action, fields)
    assert free(scene, scene.coach) == []
    coach.post("/coach/evenings", {"weekdays": ["1"], "starts": "18:30", "ends": "20:00"})
    coach.post("/coach/evenings", {"day": "5"})
    assert free(scene, scene.coach) == [("Mon 18:30", "Mon 20:00"), ("Fri 18:30", "Fri 20:00")]
    coach.post("/coach/evenings", {"day": "-5"})
    action, fields = offered(coach, "/coach/evenings")
    coach.post(action, fields)
    assert CoachEvening.objects.filter(coach=scene.coach).count() == 2
    assert coach.post("/coach/evenings", {"day": "9"}).status_code == 404


def test_an_absence_has_no_reason_and_ends_by_a_tap(scene, signed_in):
    coach = signed_in(scene.coach)
    _viewer, week = next_week(scene)
    coach.post("/coach/evenings", {"weekdays": ["1", "2"], "starts": "17:00", "ends": "21:00"})
    coach.post("/coach/evenings", {"away": "1", "first_day": week.monday.isoformat()})
    assert free(scene, scene.coach) == [("Tue 17:00", "Tue 21:00")]
    coach.post("/coach/evenings", {"here": str(CoachAbsence.objects.get().pk)})
    action, fields = offered(coach, "/coach/evenings")
    coach.post(action, fields)
    assert free(scene, scene.coach) == [("Tue 17:00", "Tue 21:00")]
    assert "reason" not in {one.name for one in CoachAbsence._meta.get_fields()}
    kinds = AccessLogEntry.objects.order_by("seq").values_list("verb", "kind")
    assert list(kinds)[-3:] == [("made", "coach_absence"), ("removed", "coach_absence"), ("made", "coach_absence")]


def test_the_head_coach_keeps_anybody_s_and_a_coach_one_s_own_alone(scene, signed_in, head):
    page = f"/head-coach/coaches/{scene.coach.pk}/evenings"
    head.post(page, {"day": "2"})
    head.post(page, {"most": "3"})
    assert free(scene, scene.coach) == [("Tue 17:00", "Tue 21:00")]
    assert CoachSettings.objects.get(coach=scene.coach).max_sessions_per_day == 3
    row = CoachEvening.objects.get()
    signed_in(scene.second_coach).post("/coach/evenings", {"remove": str(row.pk)})
    assert CoachEvening.objects.filter(pk=row.pk).exists()
    assert signed_in(scene.second_coach).get(page).status_code == 404


@pytest.mark.parametrize("count", [0, 3, 30])
def test_the_page_takes_the_same_queries_for_any_number_of_venues(scene, head, django_assert_max_num_queries, count):
    for number in range(count):
        make_venue(scene.club, f"Straight {number + 2}")
    with django_assert_max_num_queries(18):
        assert head.get("/head-coach/venues").status_code == 200


def test_public_holidays_are_suggested_where_the_country_is_known():
    """Saint Patrick's Day and Christmas Day are public holidays in Ireland (Organisation of Working Time Act 1997,
    second schedule)."""
    pytest.importorskip("holidays")
    first, last = date(2027, 1, 1), date(2027, 12, 31)
    found = public_holidays(country="IE", first=first, last=last)
    days = {(one.day.month, one.day.day) for one in found}
    assert {(3, 17), (12, 25)} <= days
    assert all(one.name for one in found)
    assert public_holidays(country="XX", first=first, last=last) == []


def test_whole_days_are_named_as_days_and_hours_as_hours(scene, head):
    """Also over the night in which the clock is put forward (the last Sunday of March)."""
    zone = ZoneInfo(scene.club.timezone)
    last = date(today_in(scene.club.timezone).year + 1, 3, 31)
    sunday = datetime.combine(last - timedelta(days=last.isoweekday() % 7), time(), zone)

    def day(moment: datetime) -> str:
        return f"{moment:%a} {moment.day} {moment:%b %Y}"

    before, after = sunday - timedelta(days=1), sunday + timedelta(days=1)
    spans = {
        (before, sunday): f"Shut: {day(before)}",
        (before, after): f"Shut: {day(before)} – {day(sunday)}",
        (sunday.replace(hour=17), sunday.replace(hour=19)): f"Shut: {day(sunday)} 17:00 – {day(sunday)} 19:00",
    }
    for starts_at, ends_at in spans:
        VenueClosing.objects.create(club=scene.club, venue=scene.venue, starts_at=starts_at, ends_at=ends_at)
    page = head.get("/head-coach/venues").content.decode()
    assert sorted(re.findall(r"Shut: [^<]+", page)) == sorted(spans.values())
