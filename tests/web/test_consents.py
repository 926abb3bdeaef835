"""The admin's consents: what one signature opens, the evening desk, reminders, rules; and the athlete's own word."""

from datetime import date, timedelta
from html import unescape

import pytest

from athletes.access import answers_for
from athletes.models import ConsentReminder, PermissionEvent, Person, RulesConfirmed, Wording
from athletes.selectors.guardian_views import guardian_views
from athletes.selectors.signatures import signer_of, signers
from athletes.selectors.todo import coming_of_age_list, due_items
from athletes.services.consents import remind_signer
from athletes.viewer import viewer_for
from teamtrack.common.clock import now_in
from teamtrack.common.errors import NotFound, Refused
from tests.people import answer, link_guardian, make_athlete, make_guardian


def admin_of(scene):
    return viewer_for(scene.admin, "admin")


def opens(scene):
    return {row.person.given_name: row.opens for row in signers(admin_of(scene))}


def may_coach_read_health(scene, athlete):
    viewer = viewer_for(scene.coach, "coach")
    return answers_for(viewer=viewer, athletes=[athlete], purposes=["health"]).may(athlete.pk, "health")


def test_whoever_closes_most_with_one_signature_stands_first(scene):
    """Ivo, 11: Greta's word opens three. Noela, 16: her own opens two, health wants both. Tam, 21: three of his own."""
    assert opens(scene) == {"Greta": 3, "Tam": 3, "Noela": 2}
    sibling = make_athlete(scene.club, "Bea", scene.group, age=9)
    link_guardian(scene.guardian, sibling)
    assert next((row.person.given_name, row.opens) for row in signers(admin_of(scene))) == ("Greta", 6)
    answer(scene.child, scene.guardian, "health", "yes", names=(scene.coach,))
    assert opens(scene)["Greta"] == 5


def test_what_the_list_says_of_a_signature_comes_true(scene, signed_in):
    answer(scene.athlete, scene.athlete, "health", "yes", names=(scene.coach,))
    health = [one for one in signer_of(admin_of(scene), scene.guardian.pk).missing if one.athlete == scene.athlete]
    assert [(one.purpose, one.opens) for one in health] == [("health", True)]
    assert not may_coach_read_health(scene, scene.athlete)
    address = f"/admin/consents/{scene.guardian.pk}/typed"
    assert signed_in(scene.admin).post(address, {f"{scene.athlete.pk} health": "yes"}).status_code == 302
    assert may_coach_read_health(scene, scene.athlete)


def test_a_no_is_not_asked_again_for_six_months(scene):
    now = now_in(scene.club.timezone)
    answer(scene.child, scene.guardian, "health", "no", at=now - timedelta(days=170))
    assert opens(scene)["Greta"] == 2
    PermissionEvent.objects.update(at=now - timedelta(days=190))
    assert opens(scene)["Greta"] == 3


def test_another_guardians_no_leaves_nothing_to_sign(scene):
    other = make_guardian(scene.child, "Gus")
    answer(scene.child, other, "health", "no")
    purposes = {
        one.purpose for one in signer_of(admin_of(scene), scene.guardian.pk).missing if one.athlete == scene.child
    }
    assert purposes == {"share", "feed"}


def test_a_new_wording_asks_anew_and_a_spelling_change_does_not(scene):
    answer(scene.child, scene.guardian, "health", "yes", names=(scene.coach,))
    old = Wording.objects.get(club=scene.club, purpose="health", child_level=False)
    for version, change, expected in ((2, "minor", 2), (3, "material", 3)):
        Wording.objects.create(
            club=scene.club, purpose="health", version=version, change=change, question=old.question,
            explanation=old.explanation, in_force_from=now_in(scene.club.timezone),
        )  # fmt: skip
        assert opens(scene)["Greta"] == expected


def test_a_wording_is_never_changed_a_version_follows_it(scene, signed_in):
    answer(scene.child, scene.guardian, "health", "yes", names=(scene.coach,))
    old = Wording.objects.get(club=scene.club, purpose="health", child_level=False)
    admin = signed_in(scene.admin)
    text = {"purpose": "health", "question": old.question + "?", "explanation": old.explanation}
    assert admin.post("/admin/rules/wording", text | {"question": " ", "change": "minor"}).status_code == 400
    assert admin.post("/admin/rules/wording", text | {"question": old.question, "change": "minor"}).status_code == 400
    assert admin.post("/admin/rules/wording", text | {"change": "minor"}).status_code == 302
    assert may_coach_read_health(scene, scene.child)
    newer = text | {"explanation": old.explanation + " And more.", "change": "material"}
    assert admin.post("/admin/rules/wording", newer).status_code == 302
    assert not may_coach_read_health(scene, scene.child)
    rows = Wording.objects.filter(club=scene.club, purpose="health", child_level=False).order_by("version")
    assert [(row.version, row.change) for row in rows] == [(1, "material"), (2, "minor"), (3, "material")]
    assert rows[0].question == old.question
    shown = admin.get("/admin/rules").content.decode()
    assert "Before: version 2" in shown and "Now: version 3" in shown
    assert f"{old.explanation}<ins> And more.</ins>" in unescape(shown)
    assert "<del>" not in shown
    shorter = text | {"explanation": old.explanation, "change": "minor"}
    assert admin.post("/admin/rules/wording", shorter).status_code == 302
    assert f"{old.explanation}<del> And more.</del>" in unescape(admin.get("/admin/rules").content.decode())
    assert Wording.objects.filter(club=scene.club, purpose="health", child_level=False).count() == 4
    assert admin.post("/admin/rules/wording", newer | {"purpose": "ranking"}).status_code == 404


def test_a_form_answered_by_link_is_seen_in_one_tap_and_that_can_be_undone(scene, signed_in):
    for purpose in ("health", "share", "feed"):
        answer(scene.child, scene.guardian, purpose, "yes", names=(scene.coach,), evidence=1)
    PermissionEvent.objects.update(method="link")
    answer(scene.athlete, scene.guardian, "health", "no")
    assert not may_coach_read_health(scene, scene.child)
    admin = signed_in(scene.admin)
    assert "Form seen" in admin.get("/admin/consents").content.decode()
    assert admin.post("/admin/consents/seen", {"person": scene.guardian.pk}).status_code == 302
    assert may_coach_read_health(scene, scene.child)
    newest = PermissionEvent.objects.filter(method="paper")
    assert {(event.evidence, event.entered_by_id) for event in newest} == {(2, scene.admin.pk)}
    events = ",".join(str(event.pk) for event in newest)
    assert admin.post("/admin/consents/unseen", {"events": events}).status_code == 302
    assert not may_coach_read_health(scene, scene.child)


def test_the_paper_names_its_witness_and_whoever_may_not_sign_is_refused(scene, signed_in):
    admin = signed_in(scene.admin)
    address = f"/admin/consents/{scene.guardian.pk}/typed"
    assert admin.post(address, {}).status_code == 400
    share = {f"{scene.child.pk} share": "yes"}
    assert admin.post(address, share).status_code == 400
    named = {f"{scene.child.pk} coaches": str(scene.other_coach.pk), "witness": "Hedda Tester"}
    assert admin.post(address, share | named).status_code == 302
    event = PermissionEvent.objects.get()
    assert (event.witness, event.method, event.answer) == ("Hedda Tester", "paper", "yes")
    assert list(event.recipients.values_list("person_id", flat=True)) == [scene.other_coach.pk]
    assert admin.get(f"/admin/consents/{scene.care_guardian.pk}").status_code == 404
    link_guardian(scene.admin, scene.child)
    other = make_guardian(scene.child, "Gus")
    own_case = admin.post(f"/admin/consents/{other.pk}/typed", {f"{scene.child.pk} health": "yes"})
    assert own_case.status_code == 400


def test_nobody_is_reminded_a_third_time(scene):
    viewer = admin_of(scene)
    remind_signer(viewer=viewer, person_id=scene.guardian.pk)
    with pytest.raises(Refused):
        remind_signer(viewer=viewer, person_id=scene.guardian.pk)
    for _number in range(2):
        ConsentReminder.objects.update(at=viewer.now - timedelta(days=8))
        if ConsentReminder.objects.count() < 2:
            remind_signer(viewer=viewer, person_id=scene.guardian.pk)
    with pytest.raises(Refused):
        remind_signer(viewer=viewer, person_id=scene.guardian.pk)
    assert ConsentReminder.objects.count() == 2
    with pytest.raises(NotFound):
        remind_signer(viewer=viewer_for(scene.coach, "coach"), person_id=scene.guardian.pk)


def test_a_reminder_is_shown_by_day_where_the_questions_are(scene, signed_in):
    client = signed_in(scene.guardian)
    assert "The club reminds you" not in client.get("/guardian/permissions").content.decode()
    row = remind_signer(viewer=admin_of(scene), person_id=scene.guardian.pk)
    now = now_in(scene.club.timezone)
    assert 8 <= row.at.astimezone(now.tzinfo).hour < 21
    ConsentReminder.objects.update(at=now)
    assert "The club reminds you" in client.get("/guardian/permissions").content.decode()
    ConsentReminder.objects.update(at=now + timedelta(hours=9))
    assert "The club reminds you" not in client.get("/guardian/permissions").content.decode()


def test_rules_want_a_name_and_are_first_to_do_until_then(scene, signed_in):
    admin = signed_in(scene.admin)
    first, _more = due_items(admin_of(scene))
    assert first[0].href == "/admin/rules"
    assert admin.post("/admin/rules/confirm", {"book": "united_states", "by_name": ""}).status_code == 400
    assert admin.post("/admin/rules/confirm", {"book": "united_states", "by_name": "Ada Tester"}).status_code == 302
    scene.club.refresh_from_db()
    assert scene.club.us_rule
    assert RulesConfirmed.objects.get().digital_age == 16
    now, _more = due_items(admin_of(scene))
    assert "/admin/rules" not in [due.href for due in now]


def test_at_most_seven_things(scene):
    for number in range(9):
        scene.data_request.pk = None
        scene.data_request._state.adding = True
        scene.data_request.id = PermissionEvent._meta.pk.get_default()
        scene.data_request.save(force_insert=True)
        del number
    items, more = due_items(admin_of(scene))
    assert len(items) == 7
    assert more >= 4


def test_a_birthday_brings_an_athlete_onto_the_list_until_the_own_answer(scene):
    today = admin_of(scene).today
    Person.objects.filter(pk=scene.athlete.pk).update(birth_date=date(today.year - 16, today.month, 1))
    assert [one.athlete for one in coming_of_age_list(admin_of(scene))] == [scene.athlete]
    answer(scene.athlete, scene.athlete, "health", "no")
    assert coming_of_age_list(admin_of(scene)) == []


def test_the_athletes_word_about_a_guardian_counts_at_once_and_can_be_undone(scene, signed_in):
    def sees(what):
        guardian = viewer_for(scene.guardian, "guardian")
        return answers_for(viewer=guardian, athletes=[scene.athlete], purposes=[what]).may(scene.athlete.pk, what)

    client = signed_in(scene.athlete)
    assert (sees("feedback"), sees("health")) == (True, False)
    for what, word in (("feedback", "no"), ("health", "yes")):
        client.post("/athlete/permissions/guardians", {"guardian": scene.guardian.pk, "what": what, "answer": word})
    assert (sees("feedback"), sees("health")) == (False, True)
    last = PermissionEvent.objects.get(purpose="health")
    client.post("/athlete/permissions/guardians/take-back", {"event": last.pk})
    assert (sees("feedback"), sees("health")) == (False, False)
    page = client.get("/athlete/permissions").content.decode()
    assert scene.guardian.full_name in page
    assert "3 answers, newest first" in page


@pytest.mark.parametrize(
    ("who", "asked"), [("child", set()), ("athlete", {"feedback", "health", "audit", "copy", "erasure"})]
)
def test_only_what_the_word_decides_is_asked(scene, who, asked):
    views = guardian_views(viewer=viewer_for(getattr(scene, who), "athlete"))
    of_greta = next(one for one in views if one.guardian == scene.guardian)
    assert {view.what for view in of_greta.views if view.is_asked} == asked
    plan = next(view for view in of_greta.views if view.what == "plan")
    assert plan.answer.may
