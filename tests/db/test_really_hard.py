"""A session that turned out hard: in the planner's problem, on the Week page, and by the club's own numbers."""

from datetime import datetime, time, timedelta

import pytest
from django.test import Client

from athletes.models import AccessLogEntry, Club
from sessions.core.planner.reading import read_problem
from sessions.core.planner.solve import solve_document
from sessions.selectors.planning_problem import OWN_HARD, build_problem
from sessions.services.make_week import make_week
from tests.entries import make_entry
from tests.people import make_athlete, make_session
from tests.planning import PlanScene, make_plan_scene, place

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(db, settings) -> PlanScene:
    """The club's today is the Tuesday of the planned week."""
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    settings.CLUB_DAY_SHIFT = (made.monday - made.viewer.today).days + 1
    return made


@pytest.fixture
def easy(plan):
    """Monday's easy session of the group, over at six, with five who came."""
    scene = plan.scene
    runners = [make_athlete(scene.club, f"Tor{number}", scene.group, age=16) for number in range(5)]
    session = make_session(scene.group, kind="easy", day=plan.monday, starts=time(17), athletes=tuple(runners))
    for runner in runners:
        make_entry(session, "presence", runner, scene.coach, state="came")
    return session, runners


def log(session, *efforts):
    return [make_entry(session, "day", athlete, athlete, rpe=rpe) for athlete, rpe in efforts]


def rows_of(plan, session):
    document = build_problem(viewer=plan.viewer, week=plan.week).document
    read_problem(document)
    return {row["id"].removeprefix(str(session.pk)): row for row in document["fixed"] if str(session.pk) in row["id"]}


def test_nobody_found_it_hard_and_it_stays_as_planned(plan, easy):
    session, runners = easy
    log(session, *((one, 6) for one in runners))
    assert [row["kind"] for row in rows_of(plan, session).values()] == ["easy"]


def test_one_athlete_alone_has_a_hard_session_of_their_own(plan, easy):
    session, runners = easy
    log(session, (runners[0], 7), (runners[1], 3), (runners[2], 3))
    rows = rows_of(plan, session)
    assert (rows[""]["kind"], str(runners[0].pk) in rows[""]["absent"]) == ("easy", True)
    own = rows[OWN_HARD]
    assert (own["kind"], own["also"], own["groups"], own["athletes"]) == ("hard", ["easy"], [], [str(runners[0].pk)])
    assert "venue" not in own and "coaches" not in own


def test_the_group_has_a_hard_session_from_the_median_of_enough(plan, easy):
    session, runners = easy
    log(session, (runners[0], 5), (runners[1], 7), (runners[2], 8))
    rows = rows_of(plan, session)
    assert [(row["kind"], row["also"]) for row in rows.values()] == [("hard", ["easy"])]


def test_without_a_roll_call_the_roster_is_taken_to_have_come(plan):
    """Three who report of seven on the roster are too few; with a fourth they are half."""
    scene = plan.scene
    runners = [make_athlete(scene.club, f"Ula{number}", scene.group, age=16) for number in range(7)]
    session = make_session(scene.group, kind="easy", day=plan.monday, starts=time(17), athletes=tuple(runners))
    log(session, *((one, 8) for one in runners[:3]))
    assert rows_of(plan, session)[""]["kind"] == "easy"
    log(session, (runners[3], 8))
    assert rows_of(plan, session)[""]["kind"] == "hard"


def test_what_was_corrected_or_taken_back_counts_no_more(plan, easy):
    session, runners = easy
    first, second, _ = log(session, (runners[0], 8), (runners[1], 8), (runners[2], 8))
    make_entry(session, "day", runners[0], runners[0], replaces=first, rpe=3)
    make_entry(session, "day", runners[1], runners[1], replaces=second, withdrawn=True)
    assert rows_of(plan, session)[OWN_HARD]["athletes"] == [str(runners[2].pk)]


def test_the_words_of_the_youngest_count_for_themselves_alone(plan, easy):
    session, runners = easy
    for one in runners:
        one.birth_date = plan.viewer.today - timedelta(days=11 * 366)
        one.save()
    log(session, *((one, 7) for one in runners[:4]))
    rows = rows_of(plan, session)
    assert rows[""]["kind"] == "easy"
    assert set(rows[OWN_HARD]["athletes"]) == {str(one.pk) for one in runners[:4]}


def test_the_planner_keeps_technique_away_from_it(plan, easy):
    """Before, the technique may follow the easy session after 8 h; after the reports only after the hard one's 34 h."""
    session, runners = easy
    log(session, *((one, 8) for one in runners))
    solved = solve_document(build_problem(viewer=plan.viewer, week=plan.week).document, seconds=10, workers=1)
    technique = str(plan.demand("technique").pk)
    [placed] = [row for row in solved["placed"] if row["demand"] == technique]
    assert datetime.fromisoformat(placed["start"]) - session.ends_at >= timedelta(hours=34)


def head_coach(plan):
    browser = Client()
    browser.force_login(plan.scene.head_coach.account)
    return browser


def week_page(plan):
    return head_coach(plan).get(f"/head-coach/week/{plan.monday:%G-W%V}").content.decode()


def test_the_week_page_says_which_fresh_day_is_not_fresh_and_names_nobody(plan, easy):
    session, runners = easy
    demand = plan.demand("technique")
    place(demand, session.ends_at + timedelta(hours=40), plan.scene.coach)
    assert "No longer fresh" not in week_page(plan)
    log(session, *((one, 8) for one in runners[:3]))
    page = week_page(plan)
    assert "was hard by what 3 of 5 who came logged" in page
    assert "technique begins 40 h after it: no longer fresh" in page
    told = page[page.index("No longer fresh") : page.index("What counts as hard")]
    assert not [one for one in runners if one.given_name in told]


def test_a_club_changes_its_numbers_and_can_undo_it(plan, easy):
    session, runners = easy
    log(session, *((one, 8) for one in runners))
    browser = head_coach(plan)
    answer = browser.post("/head-coach/hard-sessions", {"from_rpe": 9, "least_reports": 4, "least_percent": 60})
    assert answer.status_code == 302
    club = Club.objects.get(pk=plan.scene.club.pk)
    plan.scene.head_coach.club = club
    assert (club.hard_from_rpe, club.hard_least_reports, club.hard_least_percent) == (9, 4, 60)
    assert [row["kind"] for row in rows_of(plan, session).values()] == ["easy"]
    assert AccessLogEntry.objects.filter(club=club, verb="set", kind="club").count() == 1
    page = browser.get("/head-coach/hard-sessions").content.decode()
    assert 'name="from_rpe" value="7"' in page


def test_a_wrong_number_is_told_and_stays(plan):
    answer = head_coach(plan).post(
        "/head-coach/hard-sessions", {"from_rpe": 11, "least_reports": 1, "least_percent": 60}
    )
    page = answer.content.decode()
    assert answer.status_code == 400
    assert 'value="11"' in page and "less than or equal to 10" in page and "greater than or equal to 3" in page
