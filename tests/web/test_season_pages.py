"""The season plan on pages: made, stretched, tried by really solving, saved, undone; two at once; copied; on paper."""

import re
from datetime import date, timedelta
from functools import partial
from html import unescape

import pytest

from athletes.models import AccessLogEntry, GroupMembership, Person, Squad, SquadMembership
from athletes.viewer import viewer_for
from sessions.core.iso_week import IsoWeek
from sessions.core.planner.solve import solve_document
from sessions.core.rehearsal import all_placed
from sessions.models import (
    Demand,
    Notice,
    PatternItem,
    Phase,
    PhasePolicy,
    Proposal,
    Rehearsal,
    SeasonPlan,
    SeasonStep,
    TrainingSession,
    Venue,
    WeekModifier,
    WeekPlan,
)
from sessions.selectors.planning_problem import build_problem
from sessions.selectors.season_documents import season_document
from sessions.services.change_season import write_document
from sessions.services.make_week import make_week
from sessions.services.meets import enter_athlete
from sessions.services.solve_proposal import solve_proposal
from sessions.services.solve_rehearsal import solve_rehearsal
from teamtrack.common.clock import today_in
from teamtrack.common.models import Job
from tests.people import make_athlete, make_club, make_coach, make_group, make_session, make_staff
from tests.planning import make_plan_scene

pytestmark = pytest.mark.django_db
solve = partial(solve_document, seconds=5.0, workers=1, seed=1)
DAYS = timedelta(days=7)
holds = partial(all_placed, seconds=5.0, workers=1, seed=1)


@pytest.fixture
def plan(db):
    """Four weeks, of which the first begins next Monday."""
    made = make_plan_scene()
    SeasonPlan.objects.filter(pk=made.season.pk).update(first_monday=made.monday, weeks=4)
    Phase.objects.filter(pk=made.phase.pk).update(last_week=4)
    made.season.refresh_from_db()
    made.phase.refresh_from_db()
    return made


@pytest.fixture
def head(plan, signed_in):
    return signed_in(plan.scene.head_coach)


def here(plan, rest=""):
    return f"/head-coach/seasons/{plan.season.pk}{rest}"


def revision(plan):
    return str(SeasonPlan.objects.get(pk=plan.season.pk).revision)


def weeks(plan):
    return [(row.first_week, row.last_week) for row in Phase.objects.filter(season=plan.season)]


def offered(client, page):
    text = client.get(page).content.decode()
    form = re.search(r'data-undo.*?<form method="post" action="([^"]+)">(.*?)</form>', text, re.S)
    assert form is not None, "nothing to undo"
    fields = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form[2])
    return unescape(form[1]), {name: unescape(value) for name, value in fields}


def worked(rehearsal, **options):
    job = Job.objects.get(target_id=rehearsal.pk)
    assert solve_rehearsal(job_id=job.pk, **{"solve": solve, "holds": holds} | options) is True
    rehearsal.refresh_from_db()
    return rehearsal


def tried(client, address, fields):
    """The page to which a change to be tried leads, and its row."""
    answer = client.post(address, fields | {"try": "1"})
    assert answer.status_code == 302, answer.content.decode()[-3000:]
    return answer["Location"], Rehearsal.objects.order_by("-asked_at", "-pk").get(
        wanted__isnull=False, stop_wanted=False
    )


# Trying a change


def test_a_shorter_phase_is_tried_on_every_week_before_it_is_saved(plan, head):
    """Nothing is written by trying; the weeks that lose their sessions are told, then saving is one more press."""
    fields = {"aim": "specific", "name": "", "first_week": "1", "last_week": "2", "revision": revision(plan)}
    page, asked = tried(head, here(plan, f"/phases/{plan.phase.pk}"), fields)
    before = (weeks(plan), list(PatternItem.objects.values_list("pk", flat=True).order_by("pk")))
    asked = worked(asked)
    assert (asked.state, before[0]) == ("ready", [(1, 4)])
    assert before == (weeks(plan), list(PatternItem.objects.values_list("pk", flat=True).order_by("pk")))
    changes = asked.result["changes"]
    assert [one["monday"] for one in changes] == [str(plan.monday + timedelta(days=7 * one)) for one in (2, 3)]
    assert [(len(one["added"]), len(one["dropped"])) for one in changes] == [(0, 3), (0, 3)]
    text = head.get(page).content.decode()
    assert text.count("nothing is asked of it any more") == 2
    assert text.count("dropped: Sprint technique") == 2
    assert head.post(page).status_code == 302
    assert weeks(plan) == [(1, 2)]
    action, undo = offered(head, here(plan))
    head.post(action, undo)
    assert weeks(plan) == [(1, 4)]
    kinds = list(AccessLogEntry.objects.filter(kind="season").order_by("seq").values_list("verb", flat=True))
    assert kinds == ["ask", "set", "undone"]


def test_a_moved_meet_says_which_week_no_longer_holds_and_what_helps(plan, head):
    """A meet of six days on a week's Monday leaves no place beside it; on the days after the season it is in nobody's
    way."""
    after = plan.monday + timedelta(days=35)
    meet = make_session(plan.scene.group, kind="meet", day=after, minutes=6 * 24 * 60)
    day = plan.monday + timedelta(days=7)
    for athlete in (plan.scene.athlete, plan.scene.child, plan.scene.adult_athlete):
        enter_athlete(viewer=plan.viewer, session_id=meet.pk, athlete_id=athlete.pk, event="100 m")
    Notice.objects.all().delete()
    for address in ("/head-coach/meets", f"/head-coach/meets/{meet.pk}"):
        assert f'href="{here(plan, f"/meets/{meet.pk}")}"' in head.get(address).content.decode()
    page, asked = tried(head, here(plan, f"/meets/{meet.pk}"), {"day": day.isoformat(), "revision": revision(plan)})
    asked = worked(asked)
    assert TrainingSession.objects.get(pk=meet.pk).starts_at == meet.starts_at
    verdicts = {row["monday"]: row["verdict"] for row in asked.result["weeks"]}
    assert verdicts[day.isoformat()] == "cannot"
    assert day.isoformat() in asked.result["held_before"]
    text = head.get(page).content.decode()
    assert "no longer holds" in text and "no place: Sprint hard" in text
    head.post(page)
    moved = TrainingSession.objects.get(pk=meet.pk)
    assert moved.starts_at.astimezone(plan.zone).strftime("%Y-%m-%d %H:%M") == f"{day} 18:00"
    assert moved.changed_at is not None
    told = sorted((row.to.given_name, row.kind) for row in Notice.objects.filter(training_session=meet))
    assert told == [(name, "moved") for name in ("Carla", "Greta", "Greta", "Ivo", "Noela", "Tam")]
    assert Job.objects.filter(task="training.mail_changes", target_id=meet.pk).exists()
    action, undo = offered(head, here(plan))
    head.post(action, undo)
    assert TrainingSession.objects.get(pk=meet.pk).starts_at == meet.starts_at


def test_the_same_press_twice_is_one_trial_and_another_change_stops_it(plan, head):
    fields = {"aim": "specific", "name": "", "first_week": "1", "last_week": "3", "revision": revision(plan)}
    address = here(plan, f"/phases/{plan.phase.pk}")
    tried(head, address, fields)
    tried(head, address, fields)
    assert Rehearsal.objects.count() == 1
    tried(head, address, fields | {"last_week": "2"})
    assert sorted(Rehearsal.objects.values_list("state", flat=True)) == ["stopped", "waiting"]


def test_a_trial_that_the_season_overtook_is_not_saved(plan, head):
    fields = {"aim": "specific", "name": "", "first_week": "1", "last_week": "3", "revision": revision(plan)}
    page, _asked = tried(head, here(plan, f"/phases/{plan.phase.pk}"), fields)
    head.post(here(plan, "/weeks/2"), {"reason": "exam", "revision": revision(plan), "save": "1"})
    answer = head.post(page)
    assert (answer.status_code, weeks(plan)) == (409, [(1, 4)])
    assert "Hedda Tester changed this season" in answer.content.decode()


# Phases, patterns, rules, weeks


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"last_week": "9"}, "The weeks have to lie inside the season"),
        ({"first_week": "3", "last_week": "2"}, "The last week has to be the first one or later."),
        ({"first_week": ""}, "This field is required."),
    ],
)
def test_what_makes_no_phase_is_said(plan, head, typed, said):
    fields = {"aim": "specific", "name": "Base", "first_week": "1", "last_week": "4", "revision": revision(plan)}
    answer = head.post(here(plan, f"/phases/{plan.phase.pk}"), fields | typed | {"try": "1"})
    text = answer.content.decode()
    assert (answer.status_code, said in text, 'value="Base"' in text) == (400, True, True)
    assert Rehearsal.objects.count() == 0


def test_a_phase_is_renamed_cut_and_taken_out(plan, head):
    address = here(plan, f"/phases/{plan.phase.pk}")
    named = {"aim": "general", "name": "Winter base", "first_week": "1", "last_week": "4"}
    head.post(address, named | {"revision": revision(plan), "save": "1"})
    assert "Winter base" in head.get(here(plan)).content.decode()
    head.post(address, {"cut": "1", "cut_week": "3", "revision": revision(plan), "save": "1"})
    assert weeks(plan) == [(1, 2), (3, 4)]
    assert PatternItem.objects.filter(phase__season=plan.season).count() == 6
    head.post(address, {"out": "1", "revision": revision(plan), "save": "1"})
    assert weeks(plan) == [(3, 4)]
    action, undo = offered(head, here(plan))
    head.post(action, undo)
    assert weeks(plan) == [(1, 2), (3, 4)]
    assert (
        head.post(address, {"cut": "1", "cut_week": "40", "revision": revision(plan), "save": "1"}).status_code == 400
    )


def group_address(plan):
    return here(plan, f"/phases/{plan.phase.pk}/groups/{plan.scene.group.pk}")


def test_a_group_s_week_is_so_many_of_each_kind(plan, head):
    counts = {"counts": "1", "hard": "1", "moderate": "2", "technique": "2", "easy": "0"}
    kept = PatternItem.objects.get(kind="hard").pk
    head.post(group_address(plan), counts | {"revision": revision(plan), "save": "1"})
    kinds = sorted(PatternItem.objects.values_list("kind", flat=True))
    assert kinds == ["hard", "moderate", "moderate", "technique", "technique"]
    assert PatternItem.objects.get(kind="hard").pk == kept
    new = PatternItem.objects.filter(kind="moderate").first()
    assert list(new.venues.all()) == [plan.scene.venue]
    assert {one.pk for one in new.coaches.all()} >= {plan.scene.coach.pk, plan.scene.second_coach.pk}


def test_one_session_has_its_minutes_usual_slot_venues_and_coaches(plan, head):
    item = PatternItem.objects.get(kind="hard")
    fields = {
        "kind": "hard", "also": "easy", "duration_min": "75", "priority": "3", "lanes": "4", "observers": "2",
        "usual_weekday": "3", "usual_from": "17:30", "usual_until": "19:00", "venues": [str(plan.scene.venue.pk)],
        "coaches": [str(plan.scene.coach.pk), str(plan.scene.second_coach.pk)], "revision": revision(plan), "save": "1",
    }  # fmt: skip
    assert head.post(here(plan, f"/sessions/{item.pk}"), fields).status_code == 302
    item.refresh_from_db()
    assert (item.also, item.duration_min, item.usual_weekday, f"{item.usual_from:%H:%M}") == (["easy"], 75, 3, "17:30")
    assert item.coaches.count() == 2
    wrong = head.post(here(plan, f"/sessions/{item.pk}"), fields | {"usual_from": "", "revision": revision(plan)})
    assert "Give day and hour" in wrong.content.decode()
    stranger = str(plan.scene.stranger.pk)
    assert head.post(here(plan, f"/sessions/{item.pk}"), fields | {"coaches": [stranger]}).status_code == 400


def rules_in(plan):
    week = make_week(viewer=plan.viewer, monday=plan.monday)
    groups = build_problem(viewer=plan.viewer, week=week).document["groups"]
    return next(row for row in groups if row["id"] == str(plan.scene.group.pk)).get("policy", {})


def test_gentler_and_own_rules_reach_the_planner(plan, head):
    assert rules_in(plan) == {}
    head.post(group_address(plan), {"policy": "1", "style": "gentler", "revision": revision(plan), "save": "1"})
    found = rules_in(plan)
    assert (found["rest_days_per_week"], found["max_excused_share"]) == (2, 0.2)
    assert found["separation_h"]["hard"]["technique"] == 42.5  # 34 h times 1.25
    own = {"policy": "1", "style": "own", "rest_days_per_week": "3", "hard.technique": "30", "excused_percent": "10"}
    head.post(group_address(plan), own | {"revision": revision(plan), "save": "1"})
    found = rules_in(plan)
    assert (found["rest_days_per_week"], found["max_excused_share"]) == (3, 0.1)
    assert (found["separation_h"]["hard"]["technique"], found["separation_h"]["hard"]["hard"]) == (30, 44)
    assert 'value="30"' in head.get(group_address(plan)).content.decode()
    head.post(group_address(plan), {"policy": "1", "style": "usual", "revision": revision(plan), "save": "1"})
    assert (rules_in(plan), PhasePolicy.objects.count()) == ({}, 0)


def test_a_taper_s_reduction_is_offered_in_a_taper_alone(plan, head):
    assert "Bosquet" not in head.get(group_address(plan)).content.decode()
    Phase.objects.update(aim="taper")
    text = head.get(group_address(plan)).content.decode()
    assert "Of 180 minutes a week that leaves 106 to 72" in text  # 180 x 0.59 = 106.2, 180 x 0.40 = 72
    assert "adults and older juniors only" in text
    head.post(group_address(plan), {"taper": "1", "revision": revision(plan), "save": "1"})
    assert list(PatternItem.objects.values_list("kind", "duration_min").order_by("order")) == [
        ("hard", 30), ("technique", 30), ("easy", 30),
    ]  # fmt: skip


def test_a_group_of_younger_ones_alone_is_offered_no_reduction(plan, head):
    Phase.objects.update(aim="taper")
    today = today_in(plan.scene.club.timezone)
    Person.objects.filter(group_memberships__group=plan.scene.group).update(birth_date=today - timedelta(15 * 365))
    assert "Of 180 minutes" not in head.get(group_address(plan)).content.decode()
    before = list(PatternItem.objects.values_list("pk", "duration_min"))
    said = head.post(group_address(plan), {"taper": "1", "revision": revision(plan), "save": "1"}).content.decode()
    assert "A taper&#x27;s reduction is not offered here." in said
    assert list(PatternItem.objects.values_list("pk", "duration_min")) == before


def test_a_special_week_is_for_the_club_a_squad_or_a_school_year(plan, head):
    scene, page = plan.scene, here(plan, "/weeks/1")
    squad = Squad.objects.create(club=scene.club, name="Under 18")
    SquadMembership.objects.create(club=scene.club, athlete=scene.athlete, squad=squad, first_day=date(2020, 1, 1))
    one = {"reason": "exam", "most_sessions": "1", "squad": str(squad.pk), "last_week": "2", "revision": revision(plan)}
    head.post(page, one | {"save": "1"})
    assert sorted(WeekModifier.objects.values_list("week", "squad__name")) == [(1, "Under 18"), (2, "Under 18")]
    born = scene.child.birth_date
    year = {"born_from": f"{born.year - 1}-09-01", "born_until": f"{born.year}-08-31", "reason": "holiday"}
    head.post(page, year | {"most_sessions": "0", "revision": revision(plan), "save": "1"})
    week = make_week(viewer=plan.viewer, monday=plan.monday)
    athletes = {row["id"]: row for row in build_problem(viewer=plan.viewer, week=week).document["athletes"]}
    assert athletes[str(scene.athlete.pk)]["weekly_minutes_cap"] == 60
    assert athletes[str(scene.child.pk)]["unavailable"] != []
    assert athletes[str(scene.adult_athlete.pk)]["unavailable"] == []
    both = head.post(page, year | {"squad": str(squad.pk), "revision": revision(plan), "save": "1"})
    assert (both.status_code, "not both" in both.content.decode()) == (400, True)
    row = WeekModifier.objects.get(week=1, squad=None)
    head.post(page, {"out": str(row.pk), "revision": revision(plan), "save": "1"})
    assert WeekModifier.objects.filter(week=1).count() == 1
    assert head.get(here(plan, "/weeks/5")).status_code == 404


def test_two_who_change_a_season_lose_nothing(plan, head):
    old = revision(plan)
    counts = {"counts": "1", "hard": "1", "moderate": "0", "technique": "1", "easy": "0", "save": "1"}
    head.post(group_address(plan), counts | {"revision": old})
    answer = head.post(group_address(plan), counts | {"easy": "3", "revision": old})
    text = answer.content.decode()
    assert (answer.status_code, "Hedda Tester changed this season" in text, 'value="3"' in text) == (409, True, True)
    assert PatternItem.objects.filter(kind="easy").count() == 0
    assert head.post(group_address(plan), counts | {"revision": "x"}).status_code == 400


# The whole season


def test_the_rehearsal_s_page_asks_shows_how_far_it_is_and_what_was_found(plan, head):
    Venue.objects.filter(pk=plan.scene.venue.pk).update(lanes=1)
    page = here(plan, "/rehearsal")
    assert "Nobody has asked yet." in head.get(page).content.decode()
    head.post(page)
    asked = Rehearsal.objects.get()
    Rehearsal.objects.update(progress={"stage": "weeks", "done": 1, "of": 4, "cannot": 1}, state="running")
    assert "Week 1 of 4; 1 week cannot hold so far" in head.get(page).content.decode()
    piece = head.get(here(plan, f"/work/{asked.pk}"))
    assert (piece.status_code, "HX-Refresh" in piece.headers) == (200, False)
    Rehearsal.objects.update(state="waiting")
    asked = worked(asked)
    assert head.get(here(plan, f"/work/{asked.pk}"))["HX-Refresh"] == "true"
    text = head.get(page).content.decode()
    assert "4 weeks cannot" not in text and text.count("cannot hold") == 4
    assert "No single change was found" in text  # one more lane is asked for, which no single change gives
    coach = {"verb": "add_available", "coach": str(plan.scene.coach.pk)}
    spans = [{"weekday": day, "from": "16:00", "days": 0, "until": "17:00"} for day in (2, 4)]
    helps = {"change": coach | {"spans": spans}, "in_weeks": {str(plan.monday): [], str(plan.monday + DAYS): []}}
    Rehearsal.objects.update(result=asked.result | {"help": helps})
    text = head.get(page).content.decode()
    assert "Rona Tester comes Tuesday 16:00–17:00 and Thursday 16:00–17:00 too" in text
    assert "2 weeks would hold then: week" in text
    assert head.get(here(plan, f"/changes/{asked.pk}")).status_code == 404


def test_a_rehearsal_is_stopped_from_its_page(plan, head):
    head.post(here(plan, "/rehearsal"))
    asked = Rehearsal.objects.get()
    assert head.post(here(plan, f"/work/{asked.pk}/stop"))["Location"] == here(plan, "/rehearsal")
    asked.refresh_from_db()
    assert asked.state == "stopped"


def test_last_season_is_copied_whole(plan, head):
    WeekModifier.objects.create(club=plan.scene.club, season=plan.season, week=2, reason="exam", most_sessions=1)
    monday = plan.monday + timedelta(days=364)
    fields = {"name": "Next", "first_monday": (monday + timedelta(days=2)).isoformat(), "weeks": "40"}
    assert head.post("/head-coach/seasons/new", fields | {"begin_with": str(plan.season.pk)}).status_code == 302
    copy = SeasonPlan.objects.get(name="Next")
    assert (copy.first_monday, copy.weeks) == (monday, 4)
    assert [item.kind for item in PatternItem.objects.filter(phase__season=copy)] == ["hard", "technique", "easy"]
    assert WeekModifier.objects.filter(season=copy).count() == 1
    action, undo = offered(head, here(plan))
    again = head.post("/head-coach/seasons/new", fields | {"begin_with": str(plan.season.pk)})
    assert (again.status_code, SeasonPlan.objects.count()) == (400, 2)
    head.post(action, undo)
    assert SeasonPlan.objects.count() == 1


def test_a_document_written_back_is_the_same_season(plan):
    before = season_document(season=plan.season)
    write_document(plan.season, before)
    assert season_document(season=SeasonPlan.objects.get(pk=plan.season.pk)) == before


def test_an_undo_after_somebody_left_the_club_leaves_them_out(plan, head):
    item = PatternItem.objects.get(kind="easy")
    head.post(here(plan, f"/sessions/{item.pk}"), {"out": "1", "revision": revision(plan), "save": "1"})
    GroupMembership.objects.filter(athlete=plan.scene.helper).delete()
    step = SeasonStep.objects.get()
    step.before["patterns"][0]["coaches"].append("00000000-0000-4000-8000-000000000000")
    step.save()
    head.post(here(plan, "/undo"), {"step": str(step.pk), "revision": revision(plan)})
    assert PatternItem.objects.filter(kind="easy").exists()


def test_the_season_on_one_page_says_who_printed_it(plan, head):
    text = head.get(here(plan, "/paper")).content.decode()
    assert "Printed" in text and "Hedda Tester" in text and "technique 60" in text


@pytest.mark.parametrize("path", ["", "/paper", "/rehearsal", "/phases/new", "/weeks/1"])
def test_nobody_but_the_head_coach_finds_the_season(plan, signed_in, path):
    for who in ("coach", "athlete", "guardian", "admin", "stranger"):
        assert signed_in(getattr(plan.scene, who)).get(here(plan, path)).status_code == 404


def test_the_page_takes_the_same_queries_for_any_number_of_sessions(plan, head, django_assert_max_num_queries):
    for item in list(PatternItem.objects.all()) * 10:
        item.pk = None
        item.id = None
        PatternItem.objects.create(
            club=item.club, phase=item.phase, group=item.group, kind=item.kind, duration_min=30, order=item.order + 5
        )
    with django_assert_max_num_queries(28):
        assert head.get(here(plan)).status_code == 200


# From an empty club


@pytest.mark.django_db(transaction=True)
def test_a_new_club_comes_to_a_week_plan_by_pages_alone(signed_in):
    club = make_club(name="Lantern Row Harriers")
    group = make_group(club, "Sprint")
    coach, head_coach = make_coach(club, "Rona", group), make_staff(club, "Hedda", "head_coach")
    make_athlete(club, "Noela", group, age=16)
    head = signed_in(head_coach)
    assert "begin with one of three patterns" in head.get("/head-coach/season").content.decode()
    assert "Add a straight" in head.get("/head-coach/venues").content.decode()
    straight = {"name": "Long Straight", "straight_cm": "100", "roll_in_cm": "20", "run_out_cm": "17", "lanes": "4"}
    head.post("/head-coach/venues/new", straight | {"surface": "track", "has_lights": "on"})
    venue = Venue.objects.get(club=club)
    hours = {"weekdays": ["1", "2", "3", "4", "5", "6"], "starts": "16:00", "ends": "21:00"}
    head.post(f"/head-coach/venues/{venue.pk}/hours", hours)
    for day in ("1", "2", "3", "4", "6"):
        signed_in(coach).post("/coach/evenings", {"day": day})
    viewer = viewer_for(head_coach, "head_coach")
    monday = viewer.today + timedelta(days=7 - viewer.today.weekday())
    given = {"name": "First", "first_monday": monday.isoformat(), "weeks": "30", "begin_with": "one_peak"}
    season_page = head.post("/head-coach/seasons/new", given)["Location"]
    assert "general preparation" in head.get(season_page).content.decode()
    label = IsoWeek(monday, viewer.now.tzinfo).label
    head.post(f"/head-coach/week/{label}/make")
    assert Demand.objects.filter(week__monday=monday).count() == 3
    head.post(f"/head-coach/week/{label}/propose")
    proposal = Proposal.objects.get()
    solve_proposal(job_id=Job.objects.get(target_id=proposal.pk).pk)
    week = WeekPlan.objects.get(club=club)
    head.post(
        f"/head-coach/week/{label}/proposals/{proposal.pk}/accept", {"whole": "1", "revision": str(week.revision)}
    )
    week.refresh_from_db()
    head.post(f"/head-coach/week/{label}/publish", {"revision": str(week.revision)})
    published = TrainingSession.objects.filter(club=club)
    assert sorted(published.values_list("kind", flat=True)) == ["easy", "moderate", "technique"]
    assert all(one.venue == venue for one in published)


def test_a_group_s_page_and_the_season_name_the_usual_day_and_hour(plan, head):
    """The pattern of the scene: hard on Tuesdays, technique on Thursdays, easy on Saturdays, each from 18:00."""
    for page in (here(plan), here(plan, f"/phases/{plan.phase.pk}/groups/{plan.scene.group.pk}")):
        text = head.get(page).content.decode()
        found = re.findall(r'min <span class="quiet">(\w+ \d+:\d+)</span>', text)
        assert found == ["Tue 18:00", "Thu 18:00", "Sat 18:00"], page
