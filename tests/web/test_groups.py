"""Squads and event groups: named, athletes in and out from a day, age groups moved, a group handed over, undo."""

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from athletes.models import (
    AccessLogEntry,
    Clearance,
    CoachAssignment,
    EventGroup,
    GroupMembership,
    PeopleStep,
    Squad,
    SquadMembership,
)
from athletes.selectors.groups import RollOverRule, roll_over_preview
from athletes.services.groups import apply_roll_over
from athletes.viewer import viewer_for
from teamtrack.common.clock import today_in
from teamtrack.common.errors import Conflict
from tests.people import make_athlete, make_coach

GROUPS = "/admin/groups"


@pytest.fixture
def today(scene):
    return today_in(scene.club.timezone)


@pytest.fixture
def admin(scene, signed_in):
    return signed_in(scene.admin)


def put_in(browser, group, athlete, day, prefix="/admin/groups"):
    return browser.post(f"{prefix}/{group.pk}/put-in", {"athlete": str(athlete.pk), "from_day": str(day)})


def undo_of(browser):
    """The undo that the next page offers, as its form posts it."""
    return browser.session["undo_offer"]["fields"]


def stays(athlete):
    rows = GroupMembership.objects.filter(athlete=athlete).order_by("first_day", "group__name")
    return [(row.group.name, row.first_day, row.last_day) for row in rows]


def test_a_group_is_added_renamed_and_put_in_order(scene, admin):
    assert (
        admin.post(f"{GROUPS}/groups", {"group_name": "Hurdles", "discipline": "sprint", "order": 3}).status_code == 302
    )
    group = EventGroup.objects.get(name="Hurdles")
    changed = {"id": str(group.pk), "group_name": "Hurdles and sprints", "discipline": "sprint", "order": 1}
    admin.post(f"{GROUPS}/groups", changed)
    group.refresh_from_db()
    assert (group.name, group.order) == ("Hurdles and sprints", 1)
    again = admin.post(f"{GROUPS}/groups", {"group_name": "hurdles AND sprints", "discipline": "sprint", "order": 9})
    assert again.status_code == 400
    assert "a group of this name already" in again.content.decode()
    assert 'value="hurdles AND sprints"' in again.content.decode()
    strange = {"id": str(scene.stranger_club.pk), "group_name": "X", "discipline": "sprint", "order": 1}
    assert admin.post(f"{GROUPS}/groups", strange).status_code == 404


def test_two_groups_at_once_from_a_day_and_a_double_submit_is_one(scene, admin, today):
    coming = today + timedelta(days=7)
    for _ in range(2):
        assert put_in(admin, scene.other_group, scene.athlete, coming).status_code == 302
    assert stays(scene.athlete)[1:] == [("Longer distance", coming, None)]
    assert stays(scene.athlete)[0][0] == "Sprint"
    page = admin.get(f"{GROUPS}/{scene.other_group.pk}").content.decode()
    assert scene.athlete.full_name in page
    line = AccessLogEntry.objects.filter(club=scene.club).get()
    assert (line.actor_role, line.verb, line.kind) == ("admin", "added", "group")


def test_taken_out_with_a_day_and_put_back_by_undo(scene, admin, today):
    before = stays(scene.athlete)
    given = {"athlete": str(scene.athlete.pk), "last_day": str(today)}
    admin.post(f"{GROUPS}/{scene.group.pk}/take-out", given)
    assert stays(scene.athlete)[0][2] == today
    fields = undo_of(admin)
    assert admin.post("/admin/steps/undo", fields).status_code == 302
    assert stays(scene.athlete) == before
    again = admin.post("/admin/steps/undo", fields, follow=True)
    assert "undone before" in again.content.decode()


def test_what_was_changed_since_is_not_undone(scene, admin, today):
    put_in(admin, scene.other_group, scene.athlete, today)
    fields = undo_of(admin)
    GroupMembership.objects.filter(athlete=scene.athlete, group=scene.other_group).update(last_day=today)
    answer = admin.post("/admin/steps/undo", fields, follow=True)
    assert "changed since" in answer.content.decode()
    assert len(stays(scene.athlete)) == 2


def test_the_head_coach_sets_who_trains_where_and_undoes_that_alone(scene, signed_in, admin, today):
    head = signed_in(scene.head_coach)
    assert put_in(head, scene.other_group, scene.athlete, today, "/head-coach/groups").status_code == 302
    assert head.post("/head-coach/steps/undo", undo_of(head)).status_code == 302
    assert len(stays(scene.athlete)) == 1
    admin.post(f"/admin/staff/{scene.coach.pk}/groups", {"group": str(scene.other_group.pk), "first_day": str(today)})
    assert head.post("/head-coach/steps/undo", undo_of(admin)).status_code == 404
    for person, status in ((scene.stranger_athlete, 404), (scene.coach, 404)):
        assert put_in(head, scene.other_group, person, today, "/head-coach/groups").status_code == status


@pytest.fixture
def squads(scene):
    rows = [("U14", 14), ("U18", 18), ("Seniors", 99)]
    return {name: Squad.objects.create(club=scene.club, name=name, under=under) for name, under in rows}


def a_rule(year):
    return {"day": f"{year}-01-01", "counted_on": f"{year}-12-31"}


def test_age_groups_move_in_one_act_after_a_preview_and_once(scene, admin, squads, today):
    year = today.year + 1
    unborn = make_athlete(scene.club, "Nell", age=None)
    SquadMembership.objects.create(
        club=scene.club, athlete=scene.child, squad=squads["Seniors"], first_day=date(2020, 1, 1)
    )
    preview = admin.get("/admin/age-groups", a_rule(year))
    shown = preview.context["preview"]
    assert {(move.athlete, move.after.name) for move in shown.moves} == {
        (scene.child, "U14"), (scene.athlete, "U18"), (scene.adult_athlete, "Seniors"),
    }  # fmt: skip
    assert shown.without_birth_date == (unborn,)
    assert SquadMembership.objects.count() == 1
    admin.post("/admin/age-groups", a_rule(year) | {"move": list(shown.keys)})
    undo = undo_of(admin)
    rows = SquadMembership.objects.filter(athlete=scene.child).order_by("first_day")
    assert [(row.squad.name, row.first_day, row.last_day) for row in rows] == [
        ("Seniors", date(2020, 1, 1), date(year - 1, 12, 31)), ("U14", date(year, 1, 1), None),
    ]  # fmt: skip
    assert admin.get("/admin/age-groups", a_rule(year)).context["preview"].moves == ()
    admin.post("/admin/steps/undo", undo)
    [row] = SquadMembership.objects.all()
    assert (row.squad.name, row.last_day) == ("Seniors", None)


def test_moves_that_are_not_those_shown_are_refused_whole(scene, admin, squads, today):
    viewer = viewer_for(scene.admin, "admin")
    rule = RollOverRule(date(today.year + 1, 1, 1), date(today.year + 1, 12, 31))
    shown = roll_over_preview(viewer=viewer, rule=rule).keys
    make_athlete(scene.club, "Newa", age=10)
    with pytest.raises(Conflict):
        apply_roll_over(viewer=viewer, rule=rule, shown=shown)
    answer = admin.post("/admin/age-groups", a_rule(today.year + 1) | {"move": list(shown)})
    assert answer.status_code == 409
    assert "The list has changed since" in answer.content.decode()
    assert SquadMembership.objects.count() == 0


def hand(browser, group, old, new, day):
    given = {"from_coach": str(old.pk), "to_coach": str(new.pk), "from_day": str(day)}
    return browser.post(f"{GROUPS}/{group.pk}/hand-over", given)


def test_a_group_is_handed_over_in_one_act_and_reading_follows_the_day(scene, admin, signed_in, today):
    page = f"/coach/athletes/{scene.athlete.pk}"
    assert hand(admin, scene.group, scene.coach, scene.other_coach, today).status_code == 302
    assert signed_in(scene.other_coach).get(page).status_code == 200
    assert signed_in(scene.coach).get(page).status_code == 404
    admin.post("/admin/steps/undo", undo_of(admin))
    assert signed_in(scene.other_coach).get(page).status_code == 404
    assert signed_in(scene.coach).get(page).status_code == 200


def offered_to(admin, group):
    page = admin.get(f"{GROUPS}/{group.pk}").content.decode()
    return re.findall(r'<option value="([^"]*)"', page.partition('name="to_coach"')[2].partition("</select>")[0])


def test_nobody_is_offered_to_take_over_from_themselves(scene, admin, today):
    """The one coach of a group is not; one of several may leave it to another, and says to whom."""
    CoachAssignment.objects.filter(group=scene.group).exclude(coach=scene.coach).delete()
    first, *others = offered_to(admin, scene.group)
    assert first == "" and str(scene.other_coach.pk) in others and str(scene.coach.pk) not in others
    CoachAssignment.objects.create(club=scene.club, coach=scene.other_coach, group=scene.group, first_day=today)
    assert str(scene.coach.pk) in offered_to(admin, scene.group)
    for same in (scene.coach, scene.other_coach):
        answer = hand(admin, scene.group, same, same, today)
        assert answer.status_code == 400
        assert "Choose another coach than the one who has the group." in answer.content.decode()
    assert PeopleStep.objects.count() == 0


def test_no_group_of_minors_goes_to_who_has_no_check_or_is_under_18(scene, admin, today):
    unchecked = make_coach(scene.club, "Ulf", checked=False)
    for other, words in ((unchecked, "no background check in date"), (scene.helper, "handed to an adult")):
        answer = hand(admin, scene.group, scene.coach, other, today)
        assert answer.status_code == 400
        assert words in answer.content.decode()
    Clearance.objects.create(
        club=scene.club, coach=unchecked, kind="background", seen_on=today, expires_on=today + timedelta(days=30)
    )
    assert hand(admin, scene.group, scene.coach, unchecked, today + timedelta(days=40)).status_code == 400
    assert hand(admin, scene.group, scene.coach, unchecked, today).status_code == 302
    assert CoachAssignment.objects.get(coach=scene.coach).last_day == today - timedelta(days=1)
    again = hand(admin, scene.group, scene.coach, unchecked, today)
    assert again.status_code == 409
    assert PeopleStep.objects.count() == 1


def test_the_number_of_queries_does_not_grow(scene, admin):
    counts = []
    for more in (0, 3, 27):
        for number in range(more):
            make_athlete(scene.club, f"More{number}", scene.group, account=False)
        with CaptureQueriesContext(connection) as queries:
            for place in (
                GROUPS,
                f"{GROUPS}/{scene.group.pk}",
                "/admin/age-groups?day=2027-01-01&counted_on=2027-12-31",
            ):
                assert admin.get(place).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1] == counts[2]
