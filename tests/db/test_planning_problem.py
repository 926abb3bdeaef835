"""The planner's problem of a week, built from the rows of one club."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from athletes.models import Club, CoachAssignment, GroupMembership, Membership, Squad, SquadMembership
from athletes.viewer import viewer_for
from sessions.core.iso_week import IsoWeek
from sessions.core.planner.reading import read_problem
from sessions.models import (
    Availability,
    CoachAbsence,
    CoachSettings,
    GroupSettings,
    SessionAthlete,
    TrainingSession,
    Venue,
    VenueClosing,
    VenueOpening,
    WeekModifier,
    WeekPlan,
)
from sessions.selectors.darkness import Darkness
from sessions.selectors.daylight import civil_daylight
from sessions.selectors.planning_problem import LeftOut, build_problem
from sessions.services.make_week import make_week
from sessions.week_words import dark_sentences
from tests.people import make_athlete, make_coach, make_session, make_staff, make_venue
from tests.planning import PlanScene, add_athletes, give_evenings, make_plan_scene, open_venue, place

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(db) -> PlanScene:
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    return made


def built(plan: PlanScene):
    found = build_problem(viewer=plan.viewer, week=plan.week)
    read_problem(found.document)
    return found


def row(document, name, row_id):
    return next(row for row in document[name] if row["id"] == str(row_id))


def instants(spans):
    return [(datetime.fromisoformat(span["start"]), datetime.fromisoformat(span["end"])) for span in spans]


# The whole document


def test_the_document_is_valid_and_of_one_club_alone(plan):
    """What could leak is there: the other club has athletes, a coach and a venue."""
    make_venue(plan.scene.stranger_club, "Far straight")
    document = built(plan).document
    mine = {plan.scene.athlete, plan.scene.child, plan.scene.adult_athlete}
    assert {one["id"] for one in document["athletes"]} == {str(one.pk) for one in mine}
    assert [one["id"] for one in document["venues"]] == [str(plan.scene.venue.pk)]
    assert {one["id"] for one in document["groups"]} == {str(plan.scene.group.pk), str(plan.scene.other_group.pk)}
    coaches = {plan.scene.coach, plan.scene.second_coach, plan.scene.helper}
    assert {one["id"] for one in document["coaches"]} == {str(one.pk) for one in coaches}
    assert document["horizon"] == {"first_day": plan.monday.isoformat(), "days": 7}
    assert [one["kind"] for one in document["demands"]] == ["hard", "technique", "easy"]


def test_windows_are_the_venues_hours_and_preferred_the_usual_slot(plan):
    demand = row(built(plan).document, "demands", plan.demand("hard").pk)
    assert instants(demand["windows"]) == [(plan.at(day, 16), plan.at(day, 21)) for day in range(7)]
    assert instants(demand["preferred"]) == [(plan.at(1, 18), plan.at(1, 19, 1))]


def test_the_groups_policy_is_handed_on_as_it_is(plan):
    policy = {"rest_days_per_week": 2, "max_excused_share": 0.2}
    GroupSettings.objects.create(club=plan.scene.club, group=plan.scene.group, policy=policy)
    assert row(built(plan).document, "groups", plan.scene.group.pk)["policy"] == policy


# Venues


def test_a_closing_is_taken_out_of_the_open_hours(plan):
    VenueClosing.objects.create(
        club=plan.scene.club, venue=plan.scene.venue, starts_at=plan.at(0, 17), ends_at=plan.at(1, 18)
    )
    spans = instants(row(built(plan).document, "venues", plan.scene.venue.pk)["open"])
    assert spans[:2] == [(plan.at(0, 16), plan.at(0, 17)), (plan.at(1, 18), plan.at(1, 21))]


def test_a_venue_without_lights_closes_at_civil_dusk(plan):
    venue = plan.scene.venue
    venue.has_lights, venue.latitude, venue.longitude = False, 51.50853, -0.12574
    venue.save()
    document = built(plan).document
    light = civil_daylight(latitude=venue.latitude, longitude=venue.longitude, week=IsoWeek(plan.monday, plan.zone))
    evenings = [(plan.at(day, 16), min(plan.at(day, 21), light[day][1])) for day in range(7)]
    expected = [(start, end.replace(second=0, microsecond=0)) for start, end in evenings if start < end]
    assert instants(row(document, "venues", venue.pk)["open"]) == expected


def test_what_darkness_takes_of_the_hours_is_told_by_day(plan):
    """Civil dusk in London on 12 December 2015 at 16:31, dawn at 7:16 (public almanac values, as in the test below)."""
    venue, week = plan.scene.venue, IsoWeek(date(2015, 12, 7), ZoneInfo("Europe/London"))
    venue.has_lights, venue.latitude, venue.longitude = False, 51.50853, -0.12574
    venue.save()
    VenueOpening.objects.update(first_day=date(2015, 1, 1))
    early = {"weekday": 6, "starts": time(7), "ends": time(9), "first_day": date(2015, 1, 1)}
    VenueOpening.objects.create(club=venue.club, venue=venue, **early)
    darkness = Darkness(plan.viewer)
    found = {one.day.day: one for one in darkness.of_week(week, [venue.pk])}
    assert (sorted(found), found[7].until, darkness.of_week(week, [])) == ([7, 8, 9, 10, 11, 12, 13], None, [])
    for moment, wall in ((found[12].until, time(7, 16)), (found[12].since, time(16, 31))):
        assert abs(moment - datetime.combine(date(2015, 12, 12), wall, week.zone)) <= timedelta(seconds=90)
    noon = {"start": "2015-12-11T16:00+00:00", "end": "2015-12-11T16:15+00:00"}
    assert darkness.of_week(week, [venue.pk], [noon]) == []
    [friday] = darkness.of_week(week, [venue.pk], [noon | {"end": "2015-12-11T18:00+00:00"}])
    [told] = dark_sentences([friday], week.zone)
    assert told == f"Straight A has no lights: dark from {friday.since:%H:%M} on Fri."
    Venue.objects.update(has_lights=True)
    assert Darkness(plan.viewer).of_week(week, [venue.pk]) == []


def test_a_venue_whose_place_is_not_known_is_not_cut(plan):
    plan.scene.venue.has_lights = False
    plan.scene.venue.save()
    spans = instants(row(built(plan).document, "venues", plan.scene.venue.pk)["open"])
    assert spans == [(plan.at(day, 16), plan.at(day, 21)) for day in range(7)]


@pytest.mark.parametrize(
    ("place_", "zone", "day", "dawn", "dusk"),
    [
        ((51.50853, -0.12574), "Europe/London", date(2015, 12, 1), "07:04", "16:34"),
        ((51.50853, -0.12574), "Europe/London", date(2015, 12, 12), "07:16", "16:31"),
        ((51.50853, -0.12574), "Europe/London", date(2015, 12, 25), "07:25", "16:36"),
        ((51.50853, -0.12574), "UTC", date(2019, 8, 29), "04:32", "19:30"),
        ((28.61, 77.22), "Asia/Kolkata", date(2015, 12, 1), "06:30", None),
        ((28.61, 77.22), "Asia/Kolkata", date(2015, 12, 25), "06:45", None),
    ],
)
def test_civil_light_is_that_of_the_almanac(place_, zone, day, dawn, dusk):
    """Source: public almanac values for London and New Delhi (as the astral test-suite lists them), to 90 s."""
    week = IsoWeek(day - timedelta(days=day.weekday()), ZoneInfo(zone))
    light = civil_daylight(latitude=place_[0], longitude=place_[1], week=week)[day.weekday()]
    for found, wall in zip(light, (dawn, dusk), strict=True):
        if wall is not None:
            expected = datetime.combine(day, time.fromisoformat(wall), ZoneInfo(zone))
            assert abs((found - expected).total_seconds()) <= 90


@pytest.mark.parametrize(
    ("latitude", "longitude", "monday", "dates"),
    [
        (69.65, 18.96, date(2026, 6, 15), 7),
        (78.22, 15.65, date(2026, 12, 21), 0),
        (69.65, 18.96, date(2026, 12, 21), 7),
    ],
)
def test_midnight_sun_and_polar_night(latitude, longitude, monday, dates):
    """Noon stands at 90 - latitude -/+ 23.44 degrees on the solstices (geometry): Tromsø never sinks below -6 in June
    and reaches -3 at noon in December, Longyearbyen stays at -12 then."""
    week = IsoWeek(monday, ZoneInfo("Europe/Oslo"))
    light = civil_daylight(latitude=latitude, longitude=longitude, week=week)
    assert len(light) == dates
    if monday.month == 6:
        assert light == [(week.at(day, time()), week.at(day + timedelta(days=1), time())) for day in week.days]


# Coaches


def test_a_coach_is_there_on_evenings_but_absences(plan):
    coach = plan.scene.coach
    CoachSettings.objects.create(club=coach.club, coach=coach, max_sessions_per_day=3)
    CoachAbsence.objects.create(club=coach.club, coach=coach, starts_at=plan.at(2, 0), ends_at=plan.at(4, 18))
    found = row(built(plan).document, "coaches", coach.pk)
    whole = [(plan.at(day, 17), plan.at(day, 21)) for day in (0, 1, 5, 6)]
    assert instants(found["available"]) == [*whole[:2], (plan.at(4, 18), plan.at(4, 21)), *whole[2:]]
    assert found["max_sessions_per_day"] == 3


def coaches_of(plan, kind="hard"):
    demand = row(built(plan).document, "demands", plan.demand(kind).pk)
    return set(demand["coaches"]), set(demand["qualified"])


def test_a_helper_under_18_is_among_the_coaches_and_never_qualified(plan):
    coaches, qualified = coaches_of(plan)
    assert str(plan.scene.helper.pk) in coaches - qualified
    assert qualified == {str(plan.scene.coach.pk), str(plan.scene.second_coach.pk)}


@pytest.mark.parametrize(
    ("seen", "expires", "may"),
    [(-30, 30, True), (0, 6, True), (0, 5, False), (1, 30, False), (-30, -1, False)],
    ids=["whole week", "to the day", "ends on Saturday", "begins on Tuesday", "ran out"],
)
def test_a_check_must_hold_all_week_for_minors(plan, seen, expires, may):
    clearance = plan.scene.coach.clearances.get()
    clearance.seen_on = plan.monday + timedelta(days=seen)
    clearance.expires_on = plan.monday + timedelta(days=expires)
    clearance.save()
    coaches, qualified = coaches_of(plan)
    assert (str(plan.scene.coach.pk) in coaches) is may
    assert (str(plan.scene.coach.pk) in qualified) is may


def test_adults_may_be_led_without_a_check(plan):
    plan.scene.coach.clearances.all().delete()
    GroupMembership.objects.filter(athlete__in=[plan.scene.athlete, plan.scene.child]).delete()
    coaches, _qualified = coaches_of(plan)
    assert str(plan.scene.coach.pk) in coaches


def test_a_helper_leads_no_group_in_which_they_train(plan):
    helper = plan.scene.helper
    GroupMembership.objects.create(club=helper.club, athlete=helper, group=plan.scene.group, first_day=date(2020, 1, 1))
    coaches, _qualified = coaches_of(plan)
    assert str(helper.pk) not in coaches


def test_a_demand_that_nobody_may_lead_is_left_out_with_its_reason(plan):
    for coach in (plan.scene.coach, plan.scene.second_coach):
        coach.clearances.all().delete()
    found = built(plan)
    assert found.document["demands"] == []
    assert set(found.left_out.values()) == {LeftOut.NO_LEADER}


def test_other_reasons_to_leave_a_demand_out(plan):
    hard, technique = plan.demand("hard"), plan.demand("technique")
    hard.observers = 4
    hard.save()
    technique.venues.set([make_venue(plan.scene.club, "Never open")])
    assert built(plan).left_out == {hard.pk: LeftOut.TOO_FEW_COACHES, technique.pk: LeftOut.NO_VENUE}


# Athletes


def say(plan, athlete, state, *, day=1, training_session=None, minutes=0):
    start = training_session.starts_at if training_session else plan.at(day, 12)
    end = training_session.ends_at if training_session else plan.at(day, 22)
    now = datetime.now(UTC)
    Availability.objects.create(
        club=plan.scene.club, athlete=athlete, training_session=training_session, starts_at=start, ends_at=end,
        state=state, said_by=athlete, said_as="athlete", said_at=now + timedelta(minutes=minutes),
    )  # fmt: skip


def unavailable(plan, athlete):
    return instants(row(built(plan).document, "athletes", athlete.pk)["unavailable"])


def test_not_coming_is_known_and_the_latest_word_counts(plan):
    child = plan.scene.child
    say(plan, child, "not_today", day=1)
    assert unavailable(plan, child) == [(plan.at(1, 12), plan.at(1, 22))]
    say(plan, child, "modified", day=3, minutes=1)
    say(plan, child, "run", day=1, minutes=2)
    assert unavailable(plan, child) == []


def test_not_coming_to_a_session_is_that_day(plan):
    child = plan.scene.child
    session = make_session(plan.scene.group, day=plan.monday + timedelta(days=1), athletes=(child,))
    say(plan, child, "not_today", training_session=session)
    assert unavailable(plan, child) == [(plan.at(1, 0), plan.at(2, 0))]
    say(plan, child, "run", training_session=session, minutes=1)
    assert unavailable(plan, child) == []


def test_an_athlete_whose_record_may_not_be_used_is_not_planned_with(plan):
    """The notice was not shown yet: the decision says no, so the id is nowhere in the document."""
    newcomer = make_athlete(plan.scene.club, "Nora", plan.scene.group)
    assert str(newcomer.pk) in str(built(plan).document)
    Membership.objects.filter(athlete=newcomer).update(notice_shown_on=None)
    assert str(newcomer.pk) not in str(built(plan).document)


def test_the_united_states_rule_leaves_a_young_child_out_until_a_guardian_says_yes(plan):
    Club.objects.filter(pk=plan.scene.club.pk).update(us_rule=True)
    plan.scene.head_coach.refresh_from_db()
    document = built(plan).document
    assert str(plan.scene.child.pk) not in str(document)
    assert str(plan.scene.athlete.pk) in str(document)


def in_squad(plan, *athletes):
    squad = Squad.objects.create(club=plan.scene.club, name="U17")
    for athlete in athletes:
        SquadMembership.objects.create(club=plan.scene.club, athlete=athlete, squad=squad, first_day=date(2020, 1, 1))
    return squad


def test_a_squads_exams_cap_its_athletes_minutes(plan):
    squad = in_squad(plan, plan.scene.child)
    Membership.objects.filter(athlete=plan.scene.athlete).update(weekly_minutes_cap=500)
    WeekModifier.objects.create(
        club=plan.scene.club, season=plan.season, week=3, reason="exam", squad=squad, most_sessions=2
    )
    document = built(plan).document
    caps = {one["id"]: one.get("weekly_minutes_cap") for one in document["athletes"]}
    assert caps == {
        str(plan.scene.child.pk): 120,
        str(plan.scene.athlete.pk): 500,
        str(plan.scene.adult_athlete.pk): None,
    }


def test_a_squad_that_does_not_train_is_away_all_week(plan):
    squad = in_squad(plan, plan.scene.child)
    WeekModifier.objects.create(
        club=plan.scene.club, season=plan.season, week=3, reason="travel", squad=squad, most_sessions=0
    )
    assert unavailable(plan, plan.scene.child) == [(plan.at(0, 0), plan.at(7, 0))]


# What stands already


def test_published_sessions_of_the_weeks_round_count_with_who_was_not_there(plan):
    scene = plan.scene
    sunday = plan.monday - timedelta(days=1)
    before = make_session(
        scene.group,
        kind="hard",
        day=sunday,
        coaches=(scene.coach,),
        athletes=(scene.athlete, scene.child),
        venue=scene.venue,
    )
    guest = make_athlete(scene.club, "Gus", scene.other_group)
    SessionAthlete.objects.create(club=scene.club, training_session=before, athlete=guest)
    before.session_athletes.filter(athlete=scene.child).update(comes="away")
    meet = make_session(scene.group, kind="meet", day=plan.monday + timedelta(days=5), minutes=480)
    TrainingSession.objects.filter(pk=meet.pk).update(load_min=40)
    long_ago = make_session(scene.group, kind="hard", day=plan.monday - timedelta(days=9))
    off = make_session(scene.group, kind="hard", day=sunday)
    TrainingSession.objects.filter(pk=off.pk).update(state="called_off")
    document = built(plan).document
    ids = {one["id"] for one in document["fixed"]}
    assert {str(before.pk), str(meet.pk)} <= ids
    assert ids.isdisjoint({str(long_ago.pk), str(off.pk)})
    found = row(document, "fixed", before.pk)
    assert set(found["absent"]) == {str(scene.child.pk), str(scene.adult_athlete.pk)}
    assert found["athletes"] == [str(guest.pk)]
    assert (found["coaches"], found["venue"]) == ([str(scene.coach.pk)], str(scene.venue.pk))
    assert (row(document, "fixed", meet.pk)["load_min"], row(document, "fixed", meet.pk)["absent"]) == (40, [])


def test_the_drafts_places_are_current_and_their_sessions_are_not_fixed(plan):
    demand = plan.demand("hard")
    place(demand, plan.at(1, 18), plan.scene.coach)
    session = make_session(plan.scene.group, kind="hard", day=plan.monday + timedelta(days=1))
    TrainingSession.objects.filter(pk=session.pk).update(demand=demand)
    document = built(plan).document
    assert str(session.pk) not in {one["id"] for one in document["fixed"]}
    (current,) = document["current"]
    assert (current["demand"], current["venue"]) == (str(demand.pk), str(plan.scene.venue.pk))
    assert datetime.fromisoformat(current["start"]) == plan.at(1, 18)
    assert current["coaches"] == [str(plan.scene.coach.pk)]


def test_a_pin_leaves_one_choice(plan):
    demand = plan.demand("hard")
    place(demand, plan.at(1, 18), plan.scene.coach)
    demand.is_pinned = True
    demand.save()
    found = row(built(plan).document, "demands", demand.pk)
    assert instants(found["windows"]) == [(plan.at(1, 18), plan.at(1, 19))]
    assert (found["venues"], found["coaches"]) == ([str(plan.scene.venue.pk)], [str(plan.scene.coach.pk)])
    assert len(read_problem(built(plan).document).starts[str(demand.pk)]) == 1


def test_in_the_running_week_the_past_is_not_planned_again(plan):
    """Thursday noon: windows begin now; what began is fixed; a pinned place that has passed is left out."""
    thursday = replace(plan.viewer, now=plan.at(3, 12, 10))
    hard, easy = plan.demand("hard"), plan.demand("easy")
    session = make_session(plan.scene.group, kind="hard", day=plan.monday + timedelta(days=1))
    TrainingSession.objects.filter(pk=session.pk).update(demand=hard)
    place(easy, plan.at(0, 18), plan.scene.coach)
    easy.is_pinned = True
    easy.save()
    found = build_problem(viewer=thursday, week=plan.week)
    read_problem(found.document)
    assert [one["kind"] for one in found.document["demands"]] == ["technique"]
    assert instants(found.document["demands"][0]["windows"])[0] == (plan.at(3, 16), plan.at(3, 21))
    assert str(session.pk) in {one["id"] for one in found.document["fixed"]}
    assert found.left_out == {easy.pk: LeftOut.OVER}


# Cost


def test_the_number_of_queries_does_not_grow(plan):
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            build_problem(viewer=viewer, week=week)
        return len(found)

    viewer, week = plan.viewer, plan.week
    counts = []
    for more in (0, 3, 30):
        for athlete in add_athletes(plan.scene, more):
            say(plan, athlete, "not_today")
            make_session(
                plan.scene.group, day=plan.monday - timedelta(days=2), athletes=(athlete,), coaches=(plan.scene.coach,)
            )
        counts.append(queries())
    assert len(set(counts)) == 1


def test_a_week_of_another_club_is_built_from_its_own_rows(plan):
    other = plan.scene.stranger_club
    head = make_staff(other, "Hank", "head_coach")
    week = WeekPlan.objects.create(club=other, monday=plan.monday)
    document = build_problem(viewer=viewer_for(head, "head_coach"), week=week).document
    assert {one["id"] for one in document["athletes"]} == {str(plan.scene.stranger_athlete.pk)}
    assert (document["venues"], document["demands"]) == ([], [])


def test_more_venues_and_groups_are_stated_apart(plan):
    scene = plan.scene
    field = make_venue(scene.club, "North ground", lanes=4)
    open_venue(field, starts=time(9), ends=time(12), days=range(6, 8))
    runner = make_coach(scene.club, "Lea", scene.other_group)
    give_evenings(runner, days=range(2, 3))
    CoachAssignment.objects.create(club=scene.club, coach=runner, group=scene.group, first_day=date(2020, 1, 1))
    plan.demand("easy").venues.add(field)
    plan.demand("easy").coaches.add(runner)
    document = built(plan).document
    demand = row(document, "demands", plan.demand("easy").pk)
    assert (plan.at(5, 9), plan.at(5, 12)) in instants(demand["windows"])
    assert instants(row(document, "coaches", runner.pk)["available"]) == [(plan.at(1, 17), plan.at(1, 21))]
    assert instants(row(document, "venues", field.pk)["open"]) == [
        (plan.at(day, 9), plan.at(day, 12)) for day in (5, 6)
    ]
