"""Meets: who plans them, who is entered in what with which minutes, results, the list on paper; undo everywhere."""

import re
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils.html import strip_tags

from athletes.models import AccessLogEntry, Mark
from sessions.core.iso_week import monday_of
from sessions.core.planner.reading import read_problem
from sessions.models import Meet, MeetEntry, Notice, RosterLeaver, SessionAthlete, TrainingSession, WeekPlan
from sessions.selectors.planning_problem import OWN_MINUTES, as_session, build_problem
from sessions.services.meet_results import time_run
from teamtrack.common.clock import today_in
from tests.people import make_athlete, make_session

pytestmark = pytest.mark.django_db


@pytest.fixture
def meet(scene) -> TrainingSession:
    """A meet of the scene's group next week, nobody entered."""
    found = make_session(scene.group, kind="meet", day=today_in(scene.club.timezone) + timedelta(days=7), minutes=480)
    found.title, found.load_min = "Lantern open", 45
    found.save()
    return found


@pytest.fixture
def head(scene, signed_in):
    return signed_in(scene.head_coach)


def typed(**changes: object) -> dict[str, object]:
    said = {
        "title": "Frostfield indoor", "place": "Frostfield Hall", "first_day": "2027-01-16", "starts": "10:00",
        "ends": "16:00", "entries_close_on": "2027-01-09", "importance": "main", "load_min": "40",
        "travel": "Bus at 8:00 from the track",
    }  # fmt: skip
    return said | changes


def undo(browser, page: str) -> None:
    """Press the undo bar of the page."""
    text = browser.get(page).content.decode()
    bar = text[text.index('class="undo"') :].split("</form>")[0]
    action = re.search(r'action="([^"]+)"', bar)[1]
    fields = dict(re.findall(r'name="(\w+)" value="([^"]*)"', bar))
    assert browser.post(action, fields).status_code == 302


def enter(browser, meet, athlete, event="100 m", role="head-coach", **more):
    said = {"athlete_id": str(athlete.pk), "event": event, "own_mark": "12.84", "minutes": ""} | more
    return browser.post(f"/{role}/meets/{meet.pk}/enter", said)


def test_the_list_has_coming_meets_first_and_says_whose_entries_close_soon(scene, head, meet) -> None:
    today = today_in(scene.club.timezone)
    gone = make_session(scene.group, kind="meet", day=today - timedelta(days=9))
    TrainingSession.objects.filter(pk=gone.pk).update(title="Autumn relays")
    for days, words in ((0, "today"), (1, "in 1 day"), (7, "in 7 days"), (8, ""), (-1, "")):
        closes = today + timedelta(days=days)
        Meet.objects.update_or_create(training_session=meet, defaults={"club": scene.club, "entries_close_on": closes})
        page = head.get("/head-coach/meets").content.decode()
        assert page.index("Lantern open") < page.index("1 meet of the last two months") < page.index("Autumn relays")
        cell = strip_tags(page.partition('data-label="Entries close">')[2].partition("</td>")[0])
        assert cell == f"{closes:%a} {closes.day} {closes:%b} {words}".strip(), days


def test_a_meet_is_added_shown_changed_and_undone(scene, head) -> None:
    assert "No meets coming up" in head.get("/head-coach/meets").content.decode()
    answered = head.post("/head-coach/meets/add", typed(groups=[str(scene.group.pk)]))
    meet = TrainingSession.objects.get(kind="meet")
    assert (answered.status_code, answered["Location"]) == (302, f"/head-coach/meets/{meet.pk}")
    assert (meet.title, meet.importance, meet.load_min) == ("Frostfield indoor", "main", 40)
    assert meet.starts_at == datetime(2027, 1, 16, 10, tzinfo=ZoneInfo("Europe/Dublin"))
    page = head.get(answered["Location"]).content.decode()
    for words in ("Entries close on Saturday 9 January", "Bus at 8:00", "main", "Nobody entered yet"):
        assert words in page, words
    head.post(f"/head-coach/meets/{meet.pk}/change", typed(first_day="2027-01-17", entries_close_on=""))
    meet.refresh_from_db()
    assert (meet.starts_at.date(), meet.meet.entries_close_on) == (date(2027, 1, 17), None)
    undo(head, f"/head-coach/meets/{meet.pk}")
    meet = TrainingSession.objects.get(pk=meet.pk)
    assert (meet.starts_at.date(), meet.meet.entries_close_on) == (date(2027, 1, 16), date(2027, 1, 9))
    head.post("/head-coach/meets/add", typed(groups=[str(scene.group.pk)], title="Second"))
    undo(head, "/head-coach/meets")
    assert [row.title for row in TrainingSession.objects.filter(kind="meet")] == ["Frostfield indoor"]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [({"ends": "09:00"}, "It ends before it begins"), ({"title": ""}, "required"), ({"groups": []}, "required")],
)
def test_what_cannot_be_is_told_and_typed_text_stays(scene, head, wrong, words) -> None:
    answered = head.post("/head-coach/meets/add", typed(groups=[str(scene.group.pk)]) | wrong)
    page = answered.content.decode()
    assert answered.status_code == 400
    assert words in page
    assert "Bus at 8:00 from the track" in page
    assert not TrainingSession.objects.filter(kind="meet").exists()


def test_only_who_is_entered_is_at_the_meet(scene, head, meet) -> None:
    assert enter(head, meet, scene.athlete).status_code == 302
    assert enter(head, meet, scene.athlete, "200 m", own_mark="").status_code == 302
    assert enter(head, meet, scene.athlete, own_mark="12.70").status_code == 302, "the same entry again: its mark anew"
    assert list(MeetEntry.objects.values_list("event", "own_mark")) == [("100 m", "12.70"), ("200 m", "")]
    assert [row.athlete for row in meet.session_athletes.all()] == [scene.athlete]
    page = head.get(f"/head-coach/meets/{meet.pk}").content.decode()
    assert "1 is going" in page and "own mark 12.70" in page
    first, second = MeetEntry.objects.all()
    head.post(f"/head-coach/meets/{meet.pk}/withdraw", {"entry": str(first.pk)})
    assert meet.session_athletes.exists()
    head.post(f"/head-coach/meets/{meet.pk}/withdraw", {"entry": str(second.pk)})
    assert not meet.session_athletes.exists()
    assert RosterLeaver.objects.filter(training_session=meet, athlete=scene.athlete).exists()
    undo(head, f"/head-coach/meets/{meet.pk}")
    assert [row.event for row in MeetEntry.objects.all()] == ["200 m"]
    assert meet.session_athletes.exists()
    undo(head, f"/head-coach/meets/{meet.pk}")
    assert not meet.session_athletes.exists()
    verbs = AccessLogEntry.objects.filter(kind="meet").order_by("seq").values_list("verb", flat=True)
    assert list(verbs) == ["enter"] * 3 + ["withdraw"] * 2 + ["enter", "withdraw"]


def test_a_coach_plans_the_meets_of_the_own_groups_alone(scene, signed_in, meet) -> None:
    other = make_athlete(scene.club, "Lia", scene.other_group)
    elsewhere = make_session(scene.other_group, kind="meet", day=meet.starts_at.date())
    coach = signed_in(scene.coach)
    listed = coach.get("/coach/meets").content.decode()
    assert str(meet.pk) in listed and str(elsewhere.pk) not in listed
    assert enter(coach, meet, scene.athlete, role="coach").status_code == 302
    assert enter(coach, meet, other, role="coach").status_code == 400, "not among those who may be chosen"
    SessionAthlete.objects.create(club=scene.club, training_session=meet, athlete=other)
    assert "1 more, not of your groups" in coach.get(f"/coach/meets/{meet.pk}").content.decode()
    for place in (f"/coach/meets/{elsewhere.pk}", f"/coach/meets/{scene.training_session.pk}"):
        assert coach.get(place).status_code == 404
    assert enter(coach, elsewhere, other, role="coach").status_code == 404
    for who in (scene.helper, scene.athlete, scene.guardian, scene.admin):
        assert signed_in(who).get("/coach/meets").status_code == 404


def test_results_come_after_it_began_and_are_undone(scene, head, meet) -> None:
    enter(head, meet, scene.athlete)
    entry = MeetEntry.objects.get()
    place = f"/head-coach/meets/{meet.pk}"
    early = head.post(f"{place}/result", {"entry": str(entry.pk), "result": "12.61"})
    assert early.status_code == 400 and "has not begun" in early.content.decode()
    TrainingSession.objects.filter(pk=meet.pk).update(
        starts_at=meet.starts_at - timedelta(days=8), ends_at=meet.ends_at - timedelta(days=8)
    )
    assert head.post(f"{place}/result", {"entry": str(entry.pk), "result": "12.61"}).status_code == 302
    assert 'value="12.61"' in head.get(place).content.decode()
    head.post(f"{place}/result", {"entry": str(entry.pk), "result": "12.16"})
    undo(head, place)
    assert MeetEntry.objects.get().result == "12.61"
    assert head.post(f"{place}/result", {"entry": "no", "result": "1"}).status_code == 400


def test_the_list_on_paper_says_who_goes_and_when_to_destroy_it(scene, head, meet) -> None:
    enter(head, meet, scene.athlete)
    page = head.get(f"/head-coach/meets/{meet.pk}/paper").content.decode()
    for words in ("Noela Tester", "100 m", "12.84", "Hedda Tester", "estroy", f"{scene.athlete.birth_date:%Y}"):
        assert words in page, words
    assert "Ivo" not in page


def test_the_planner_counts_each_athletes_own_minutes(scene, head, meet, as_role) -> None:
    """Noela runs two events of 20 minutes, Ivo what most run, Tam is not entered: a day of eight hours is that work."""
    for event, minutes in (("100 m", "20"), ("200 m", "20")):
        enter(head, meet, scene.athlete, event, minutes=minutes)
    enter(head, meet, scene.child)
    viewer = as_role(scene.head_coach, "head_coach")
    week = WeekPlan.objects.create(club=scene.club, monday=monday_of(meet.starts_at.date()))
    document = build_problem(viewer=viewer, week=week).document
    rows = {row["id"]: row for row in document["fixed"] if as_session(row["id"]) == str(meet.pk)}
    own = rows.pop(f"{meet.pk}{OWN_MINUTES}40")
    [most] = rows.values()
    assert (own["athletes"], own["groups"], own["load_min"]) == ([str(scene.athlete.pk)], [], 40)
    assert most["groups"] == [str(scene.group.pk)] and most["load_min"] == 45
    assert most["absent"] == sorted(str(one.pk) for one in (scene.athlete, scene.adult_athlete))
    problem = read_problem(document)
    minutes = {
        athlete: [item.load_min for item in attended(problem, athlete) if as_session(item.id) == str(meet.pk)]
        for athlete in (str(one.pk) for one in (scene.athlete, scene.child, scene.adult_athlete))
    }
    assert list(minutes.values()) == [[40], [45], []]


def attended(problem, athlete):
    """The fixed items that an athlete attends, by the planning contract: named, or of a group and not absent."""
    for fixed in problem.fixed.values():
        of_group = any(athlete in problem.groups[group].athletes for group in fixed.item.groups)
        if athlete in fixed.athletes or (of_group and athlete not in fixed.absent):
            yield fixed.item


def test_nobody_entered_yet_counts_for_the_whole_group(scene, meet, as_role) -> None:
    week = WeekPlan.objects.create(club=scene.club, monday=monday_of(meet.starts_at.date()))
    document = build_problem(viewer=as_role(scene.head_coach, "head_coach"), week=week).document
    [row] = [row for row in document["fixed"] if row["id"] == str(meet.pk)]
    assert row["absent"] == []


def test_a_full_roster_of_a_whole_list_needs_no_more_queries(scene, head, meet, django_assert_max_num_queries) -> None:
    def count(number: int) -> int:
        with django_assert_max_num_queries(40) as made:
            assert head.get(f"/head-coach/meets/{meet.pk}").status_code == 200
        return len(made)

    enter(head, meet, scene.athlete)
    head.get("/head-coach/meets")
    few = count(1)
    for number in range(6):
        enter(head, meet, make_athlete(scene.club, f"Runner{number}", scene.group))
    head.get("/head-coach/meets")
    assert count(7) == few


def test_wall_time_of_a_meet_stays_over_a_change_of_the_clock(scene, head) -> None:
    for day in ("2027-03-27", "2027-03-28", "2027-10-30", "2027-10-31"):
        head.post("/head-coach/meets/add", typed(groups=[str(scene.group.pk)], first_day=day, title=day))
    zone = ZoneInfo("Europe/Dublin")
    rows = TrainingSession.objects.filter(kind="meet").order_by("starts_at")
    assert {row.starts_at.astimezone(zone).time() for row in rows} == {time(10)}
    assert [row.starts_at.hour for row in rows] == [10, 9, 9, 10]


def test_who_goes_and_the_family_are_told_and_nobody_else(scene, head, meet) -> None:
    def told() -> list[tuple[str, str]]:
        rows = Notice.objects.filter(training_session=meet).order_by("made_at", "to__given_name")
        found = [(row.kind, row.to.given_name) for row in rows.select_related("to")]
        rows.delete()
        return found

    enter(head, meet, scene.athlete)
    assert told() == [("added", "Greta"), ("added", "Noela")]
    enter(head, meet, scene.athlete, "200 m")
    assert told() == []
    said = typed(title="Lantern open", first_day=f"{meet.starts_at:%Y-%m-%d}", starts="12:00", load_min="45")
    head.post(f"/head-coach/meets/{meet.pk}/change", said)
    assert told() == [("moved", "Greta"), ("moved", "Noela")]
    head.post(f"/head-coach/meets/{meet.pk}/change", said | {"entries_close_on": ""})
    assert told() == [], "the closing day is the coaches' own business"
    head.post(f"/head-coach/meets/{meet.pk}/withdraw", {"athlete_id": str(scene.athlete.pk)})
    assert told() == [("called_off", "Greta"), ("called_off", "Noela")]


def test_a_time_becomes_a_mark_is_changed_with_it_and_is_the_next_own_mark(scene, head, meet) -> None:
    enter(head, meet, scene.athlete)
    TrainingSession.objects.filter(pk=meet.pk).update(
        starts_at=meet.starts_at - timedelta(days=8), ends_at=meet.ends_at - timedelta(days=8)
    )
    entry, place = MeetEntry.objects.get(), f"/head-coach/meets/{meet.pk}"

    def marks() -> list[tuple[object, ...]]:
        return list(Mark.objects.values_list("event", "time_ms", "is_hand", "wind_tenths"))

    for said, kept in (
        ("12.61 +1.3", [("100", 12610, False, 13)]),
        ("12.6h", [("100", 12600, True, None)]),
        ("did not start", []),
        ("12.61", [("100", 12610, False, None)]),
    ):
        assert head.post(f"{place}/result", {"entry": str(entry.pk), "result": said}).status_code == 302
        assert marks() == kept, said
    undo(head, place)
    assert marks() == []
    head.post(f"{place}/result", {"entry": str(entry.pk), "result": "12.61"})
    [mark] = Mark.objects.all()
    assert (mark.athlete, mark.run_on) == (scene.athlete, meet.starts_at.date() - timedelta(days=8))
    later = make_session(scene.group, kind="meet", day=today_in(scene.club.timezone) + timedelta(days=20))
    enter(head, later, scene.athlete, own_mark="")
    assert MeetEntry.objects.get(training_session=later).own_mark == "12.61"


@pytest.mark.parametrize(
    ("event", "result", "found"),
    [
        ("100 m", "12.61", ("100", 12610, False, None)),
        ("60 m hurdles", "9.4h", ("60h", 9400, True, None)),
        ("3000sc", "10:05.3", ("3000sc", 605300, False, None)),
        ("Mile", "5:01.25", ("mile", 301250, False, None)),
        ("Long jump", "4.85", None),
        ("100 m", "disqualified", None),
        ("100 m", "12.61 + 1.3", None),
    ],
)
def test_which_results_are_times(event, result, found) -> None:
    run = time_run(event, result)
    assert (run and (run.event.value, run.time_ms, run.is_hand, run.wind_tenths)) == found
