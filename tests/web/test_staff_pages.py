"""Staff: added, given roles and groups, checks entered; who may never be the adult, and no minors without a check."""

from datetime import timedelta

import pytest

from athletes.models import Clearance, CoachAssignment, Person, StaffRole
from sessions.models import SessionCoach
from sessions.selectors.staffing import adults_among, staff_of
from teamtrack.common.clock import today_in
from tests.people import make_staff

STAFF = "/admin/staff"


@pytest.fixture
def today(scene):
    return today_in(scene.club.timezone)


@pytest.fixture
def admin(scene, signed_in):
    return signed_in(scene.admin)


def new(**more):
    return {"given_name": "Runa", "family_name": "Tester", "birth_date": "1990-02-03", "role": "coach"} | more


def test_a_coach_is_added_checked_and_given_a_group(scene, admin, signed_in, today):
    for expected in (302, 409):
        assert admin.post(STAFF, new()).status_code == expected
    coach = Person.objects.get(given_name="Runa")
    place = f"{STAFF}/{coach.pk}"
    early = admin.post(f"{place}/groups", {"group": str(scene.group.pk), "first_day": str(today)})
    assert early.status_code == 400
    assert "no background check in date" in early.content.decode()
    assert "without a background check" in admin.get(STAFF).content.decode()
    seen = {"kind": "background", "seen_on": str(today), "expires_on": str(today + timedelta(days=700))}
    for _ in range(2):
        assert admin.post(f"{place}/checks", seen).status_code == 302
    assert Clearance.objects.filter(coach=coach).count() == 1
    assert admin.post(f"{place}/groups", {"group": str(scene.group.pk), "first_day": str(today)}).status_code == 302
    assert CoachAssignment.objects.get(coach=coach).group == scene.group


def test_a_check_to_come_or_without_end_is_a_slip(scene, admin, today):
    place = f"{STAFF}/{scene.coach.pk}/checks"
    for seen, ends in ((1, 30), (0, 0), (0, 4000)):
        given = {
            "kind": "background",
            "seen_on": today + timedelta(days=seen),
            "expires_on": today + timedelta(days=ends),
        }
        assert admin.post(place, given).status_code == 400
    own = {"kind": "background", "seen_on": today, "expires_on": today + timedelta(days=9)}
    assert admin.post(f"{STAFF}/{scene.admin.pk}/checks", own).status_code == 400


@pytest.mark.parametrize("role", ["head_coach", "admin", "welfare"])
def test_under_18_one_only_helps(scene, admin, role):
    answer = admin.post(f"{STAFF}/{scene.helper.pk}/roles", {"role": role})
    assert answer.status_code == 400
    assert "This role is for adults" in answer.content.decode()


def test_the_welfare_lead_does_not_coach(scene, admin):
    assert admin.post(f"{STAFF}/{scene.welfare.pk}/roles", {"role": "coach"}).status_code == 400
    assert admin.post(f"{STAFF}/{scene.coach.pk}/roles", {"role": "welfare"}).status_code == 400


def test_the_last_admin_stays_and_a_role_given_is_undone(scene, admin):
    last = admin.post(f"{STAFF}/{scene.admin.pk}/roles/end", {"role": "admin"})
    assert last.status_code == 400
    assert "The last admin stays" in last.content.decode()
    admin.post(f"{STAFF}/{scene.other_coach.pk}/roles", {"role": "admin"})
    assert StaffRole.objects.filter(person=scene.other_coach, role="admin").count() == 1
    admin.post("/admin/steps/undo", admin.session["undo_offer"]["fields"])
    assert not StaffRole.objects.filter(person=scene.other_coach, role="admin").exists()


def test_a_helper_never_helps_where_they_train(scene, admin, today):
    admin.post(f"{STAFF}/{scene.athlete.pk}/roles", {"role": "coach"})
    where = {"group": str(scene.group.pk), "first_day": str(today)}
    assert admin.post(f"{STAFF}/{scene.athlete.pk}/groups", where).status_code == 400
    elsewhere = {"group": str(scene.other_group.pk), "first_day": str(today)}
    assert admin.post(f"{STAFF}/{scene.athlete.pk}/groups", elsewhere).status_code == 302


def test_cover_is_a_first_and_last_day_that_are_one(scene, admin, signed_in, today):
    day = {"group": str(scene.group.pk), "first_day": str(today), "last_day": str(today)}
    admin.post(f"{STAFF}/{scene.other_coach.pk}/groups", day)
    page = f"/coach/athletes/{scene.athlete.pk}"
    assert signed_in(scene.other_coach).get(page).status_code == 200
    CoachAssignment.objects.filter(coach=scene.other_coach, group=scene.group).update(
        first_day=today - timedelta(days=1), last_day=today - timedelta(days=1)
    )
    assert signed_in(scene.other_coach).get(page).status_code == 404


def test_who_is_under_18_or_without_a_check_never_counts_as_the_adult(scene, today):
    session = scene.training_session
    unchecked = make_staff(scene.club, "Ulf", "coach")
    SessionCoach.objects.create(club=scene.club, training_session=session, coach=unchecked)
    on_it = staff_of(session_ids=[session.pk], day=today)[session.pk]
    assert {one.person.given_name for one in on_it if one.counts} == {"Rona", "Bran"}
    Clearance.objects.filter(coach=scene.coach).update(expires_on=today - timedelta(days=1))
    assert adults_among(staff_of(session_ids=[session.pk], day=today)[session.pk]) == 1


def test_the_club_s_rule_of_adults_is_set_and_undone(scene, admin, signed_in):
    now = {
        "adults_required": "3",
        "emergency_number": "112",
        "health_contact": "the welfare lead",
        "distance_unit": "m",
    }
    assert admin.post("/admin/club", now | {"adults_required": "0"}).status_code == 400
    assert admin.post("/admin/club", now | {"emergency_number": "ring"}).status_code == 400
    admin.post("/admin/club", now)
    assert "Adults: 2 of 3" in signed_in(scene.coach).get("/today").content.decode()
    admin.post("/admin/club", admin.session["undo_offer"]["fields"])
    assert "Adults: 2 of 3" not in signed_in(scene.coach).get("/today").content.decode()
