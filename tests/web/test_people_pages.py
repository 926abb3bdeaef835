"""The admin's page of an athlete: joining, trial, leaving, coming back, guardians with papers, numbers to ring."""

from datetime import timedelta

import pytest

from athletes.access import answers_for, athletes_visible_to
from athletes.models import (
    ContactNumber,
    Guardianship,
    LedgerLine,
    Membership,
    PeopleStep,
    PermissionEvent,
    Person,
    Restriction,
)
from athletes.viewer import viewer_for
from teamtrack.common.clock import today_in
from tests.people import answer, make_guardian


@pytest.fixture
def today(scene):
    return today_in(scene.club.timezone)


@pytest.fixture
def admin(scene, signed_in):
    return signed_in(scene.admin)


def somebody(today, **more):
    return {
        "given_name": "Nova", "family_name": "Tester", "birth_date": "2013-05-01", "first_day": str(today),
        "notice_shown": "on",
    } | more  # fmt: skip


def at(athlete, *rest):
    return "/".join(("/admin/athletes", str(athlete.pk), *map(str, rest)))


def test_somebody_new_comes_after_the_notice_and_once(scene, admin, today):
    untold = admin.post("/admin/athletes/new", somebody(today, notice_shown=""))
    assert untold.status_code == 400
    assert "First give the family the notice" in untold.content.decode()
    assert admin.post("/admin/athletes/new", somebody(today)).status_code == 302
    again = admin.post("/admin/athletes/new", somebody(today))
    assert again.status_code == 409
    assert 'value="Nova"' in again.content.decode()
    assert Person.objects.filter(given_name="Nova").count() == 1
    assert "Nova" in admin.get("/admin/roster").content.decode()


def test_somebody_added_by_mistake_goes_again_whole(scene, admin, today):
    admin.post("/admin/athletes/new", somebody(today))
    slip = Person.objects.get(given_name="Nova")
    [step] = PeopleStep.objects.all()
    undone = admin.post("/admin/steps/undo", {"step": str(step.pk), "back": at(slip)}, follow=True)
    assert undone.redirect_chain == [("/admin/roster", 302)]
    slip.refresh_from_db()
    assert (slip.given_name, slip.birth_date, slip.left_on) == ("", None, today)
    admin.post(at(scene.child, "guardians"), {"given_name": "Gudrun", "family_name": "Slip"})
    admin.post("/admin/steps/undo", admin.session["undo_offer"]["fields"])
    assert not Person.objects.filter(given_name="Gudrun").exists()


def test_a_visitor_is_known_and_may_be_there_and_no_form_history_is_kept(scene, admin, today):
    until = today + timedelta(days=14)
    admin.post("/admin/athletes/new", somebody(today, trial_until=str(until)))
    visitor = Person.objects.get(given_name="Nova")
    admin.post(at(visitor, "group"), {"group": str(scene.group.pk), "from_day": str(today)})
    coach = viewer_for(scene.coach, "coach")
    asked = answers_for(viewer=coach, athletes=[visitor], purposes=("record", "feedback"))
    assert asked.may(visitor.pk, "record")
    assert (asked.may(visitor.pk, "feedback"), asked.answer(visitor.pk, "feedback").code) == (False, "RESTRICTED")
    assert "on trial until" in admin.get(at(visitor)).content.decode()
    assert "Nova" not in admin.get("/admin/to-do").content.decode()
    Membership.objects.filter(athlete=visitor).update(last_day=today + timedelta(days=7))
    assert "Nova Tester is on trial until" in admin.get("/admin/to-do").content.decode()
    Membership.objects.filter(athlete=visitor).update(last_day=until)
    admin.post(at(visitor, "join"), {"first_day": str(today + timedelta(days=1))})
    rows = Membership.objects.filter(athlete=visitor).order_by("first_day")
    assert [(row.is_trial, row.last_day) for row in rows] == [(True, today), (False, None)]
    assert Restriction.objects.get(athlete=visitor).last_day == today


def test_a_trial_lasts_six_weeks_at_most(scene, admin, today):
    late = admin.post("/admin/athletes/new", somebody(today, trial_until=str(today + timedelta(days=60))))
    assert late.status_code == 400
    assert not Person.objects.filter(given_name="Nova").exists()


def test_who_leaves_is_seen_by_nobody_and_who_comes_back_is_asked_anew(scene, admin, signed_in, today):
    answer(scene.athlete, scene.athlete, "health", names=(scene.coach,))
    answer(scene.athlete, scene.guardian, "health", names=(scene.coach,))

    def health():
        coach = viewer_for(scene.coach, "coach")
        return answers_for(viewer=coach, athletes=[scene.athlete], purposes=("health",)).may(scene.athlete.pk, "health")

    assert health()
    yesterday = today - timedelta(days=1)
    admin.post(at(scene.athlete, "leave"), {"last_day": str(yesterday)})
    assert scene.athlete not in athletes_visible_to(viewer_for(scene.coach, "coach"))
    page = admin.get(at(scene.athlete)).content.decode()
    assert "goes 30 days after that" in page
    back = {"first_day": str(today), "notice_shown": "on"}
    assert admin.post(at(scene.athlete, "back"), back).status_code == 302
    assert admin.post(at(scene.athlete, "back"), back).status_code == 409
    admin.post(at(scene.athlete, "group"), {"group": str(scene.group.pk), "from_day": str(today)})
    assert scene.athlete in athletes_visible_to(viewer_for(scene.coach, "coach"))
    assert not health()
    latest = PermissionEvent.objects.filter(athlete=scene.athlete, purpose="health").order_by("at")
    assert [row.answer for row in latest] == ["yes", "yes", "withdrawn", "withdrawn"]
    assert LedgerLine.objects.filter(what="stop").count() == 2


def test_leaving_by_mistake_is_undone_with_all_groups(scene, admin, today):
    admin.post(at(scene.athlete, "leave"), {"last_day": str(today - timedelta(days=1))})
    admin.post("/admin/steps/undo", admin.session["undo_offer"]["fields"])
    assert scene.athlete in athletes_visible_to(viewer_for(scene.coach, "coach"))


def test_who_goes_to_another_club_is_told_until_when_and_offered_the_copy(scene, admin, signed_in, today):
    day = today + timedelta(days=14)
    admin.post(at(scene.athlete, "leave"), {"last_day": str(day)})
    for who, place in ((scene.athlete, "/athlete/permissions"),
                       (scene.guardian, f"/guardian/permissions/{scene.athlete.pk}")):  # fmt: skip
        text = signed_in(who).get(place).content.decode()
        assert f"in the club is {day.day} {day:%B} {day.year}" in text and "Take a copy as a file" in text, place
        assert "leaves the club" not in signed_in(scene.child).get("/athlete/permissions").content.decode()
    admin.post("/admin/steps/undo", admin.session["undo_offer"]["fields"])
    assert "leaves the club" not in signed_in(scene.athlete).get("/athlete/permissions").content.decode()


def test_a_guardian_of_several_is_linked_by_name_once_asked(scene, admin):
    named = {"given_name": "greta", "family_name": "Tester"}
    asked = admin.post(at(scene.adult_athlete, "guardians"), named)
    assert asked.status_code == 400
    assert "guardian of Ivo Tester, Noela Tester" in asked.content.decode()
    before = Person.objects.count()
    admin.post(at(scene.adult_athlete, "guardians"), named | {"who": str(scene.guardian.pk)})
    link = Guardianship.objects.get(athlete=scene.adult_athlete)
    assert (link.guardian, link.authority, Person.objects.count()) == (scene.guardian, "unverified", before)
    admin.post(at(scene.adult_athlete, "guardians"), named | {"who": "new"})
    assert Person.objects.count() == before + 1


def number(**more):
    return {"who": "Gundula", "relation": "mother", "phone": "+353 1 555 0100", "order": 1} | more


def test_guardians_set_their_own_numbers_and_never_see_each_other_s(scene, signed_in):
    other = make_guardian(scene.child, "Gero", authority="full")
    place = f"/guardian/numbers/{scene.child.pk}"
    signed_in(scene.guardian).post(f"{place}/keep", number(who="Greta T", phone="01 555 0111"))
    ContactNumber.objects.create(
        club=scene.club, athlete=scene.child, name="Olga", relation="aunt", phone="01 555 0122"
    )
    theirs = signed_in(other)
    page = theirs.get(place).content.decode()
    assert "2 other numbers" in page
    for detail in ("Greta", "0111", "Olga", "0122"):
        assert detail not in page
    hers = ContactNumber.objects.get(name="Greta T")
    assert theirs.post(f"{place}/keep", number(id=str(hers.pk))).status_code == 404
    assert theirs.post(f"{place}/remove", {"id": str(hers.pk)}).status_code == 404
    theirs.post(f"{place}/keep", number(who="Greta T", phone="01 555 0111"))  # the same typed is a row of their own
    assert ContactNumber.objects.filter(name="Greta T").count() == 2
    theirs.get(place)  # says what was kept, once
    for page in ("/guardian/family", f"/guardian/permissions/{scene.child.pk}", f"/guardian/requests/{scene.child.pk}"):
        assert "Greta" not in theirs.get(page).content.decode()


@pytest.mark.parametrize("authority", ["care", "limited", "unverified"])
def test_who_does_not_decide_sets_no_number(scene, signed_in, authority):
    guardian = make_guardian(scene.child, "Gesa", authority=authority)
    assert signed_in(guardian).get(f"/guardian/numbers/{scene.child.pk}").status_code == 404
    assert signed_in(guardian).post(f"/guardian/numbers/{scene.child.pk}/keep", number()).status_code == 404


def test_a_number_is_changed_taken_away_and_put_back(scene, signed_in):
    browser, place = signed_in(scene.guardian), f"/guardian/numbers/{scene.child.pk}"
    for _ in range(2):
        browser.post(f"{place}/keep", number(may_collect="on"))
    row = ContactNumber.objects.get(athlete=scene.child)
    bad = browser.post(f"{place}/keep", number(phone="ring the bell"))
    assert bad.status_code == 400
    assert "Digits, spaces and + alone" in bad.content.decode()
    browser.post(f"{place}/keep", number(id=str(row.pk), phone="01 555 0199"))
    row.refresh_from_db()
    assert (row.phone, row.may_collect) == ("01 555 0199", False)
    browser.post(f"{place}/remove", {"id": str(row.pk)})
    assert not ContactNumber.objects.exists()
    offer = browser.session["undo_offer"]
    browser.post(offer["action"], offer["fields"])
    assert ContactNumber.objects.get().phone == "01 555 0199"
