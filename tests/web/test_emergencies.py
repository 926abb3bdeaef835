"""Pain notes opened in an emergency: who may, for how long, who is told, and what the athlete sees of it."""

from datetime import timedelta

import pytest
from django.core import mail
from django.utils.html import escape

from athletes.models import (
    AccessLogEntry,
    ContactNumber,
    GroupMembership,
    Guardianship,
    Membership,
    Person,
    Restriction,
    Withholding,
)
from athletes.selectors.access_log import chain_fault
from athletes.services.access_log import pseudonyms
from sessions.models import EmergencyAccess, Notice
from sessions.services.emergency_access import OPEN_FOR
from sessions.services.mail_emergency import mail_emergency
from teamtrack.common.clock import now_in, today_in, utc_now
from teamtrack.common.models import Job
from tests.entries import make_pain
from tests.people import answer, link_guardian, make_coach, make_guardian, make_session

WORDS, WHY = "since Monday", "Fell at the third stride"
KEEPS = "Phone-Keeps"
SAID = {"cannot_answer": "on", "reason": WHY}


@pytest.fixture
def hurt(scene):
    """Noela, whose pain note nobody may read any more: she said yes once, then withdrew."""
    answer(scene.athlete, scene.athlete, word="withdrawn")
    make_pain(scene.training_session, scene.athlete, scene.coach)
    return scene.athlete


def page(athlete, opener="coach", deed=""):
    return f"/{opener}/emergency/{athlete.pk}{deed}"


def open_as(browser, athlete, opener="coach", said=SAID):
    return browser.post(page(athlete, opener, "/open"), said)


def body(browser, address):
    return browser.get(address).content.decode()


def lines(**more):
    rows = AccessLogEntry.objects.filter(kind__in=("emergency_access", "pain"), **more).order_by("seq")
    return list(rows.values_list("actor_role", "verb", "kind", "code"))


def pass_by(row, time):
    """Let so much time pass since it was opened."""
    EmergencyAccess.objects.filter(pk=row.pk).update(opened_at=row.opened_at - time, until=row.until - time)


OPENED = ("emergency_access", "open", "emergency_access", "VITAL_INTERESTS")
READ = ("emergency_access", "read", "pain", "VITAL_INTERESTS")


def test_a_coach_opens_reads_and_closes_and_each_step_is_in_the_log(scene, hurt, signed_in):
    browser = signed_in(scene.coach)
    assert page(hurt) in body(browser, f"/coach/athletes/{hurt.pk}")
    assert str(hurt.pk) in body(browser, "/coach/emergencies")
    before = body(browser, page(hurt))
    assert WORDS not in before and 'href="tel:112"' in before and lines() == []
    assert open_as(browser, hurt).status_code == 302
    assert lines() == [OPENED]
    assert WORDS in body(browser, page(hurt)) and lines() == [OPENED, READ]
    assert WORDS not in body(browser, f"/coach/athletes/{hurt.pk}"), "the page of every day shows it too"
    row = EmergencyAccess.objects.get()
    assert (row.until - row.opened_at, row.reason, row.opened_as) == (OPEN_FOR, WHY, "coach")
    assert browser.post(page(hurt, deed="/close")).status_code == 302
    assert WORDS not in body(browser, page(hurt))
    assert browser.post(page(hurt, deed="/close")).status_code == 302
    assert lines()[2:] == [("emergency_access", "closed", "emergency_access", "")]
    assert chain_fault(club_id=scene.club.pk) is None
    assert not [one for one in AccessLogEntry.objects.all() if WHY in str(one.chained)], "the log holds no contents"


def test_it_closes_by_itself(scene, hurt, signed_in):
    browser = signed_in(scene.coach)
    open_as(browser, hurt)
    row = EmergencyAccess.objects.get()
    pass_by(row, OPEN_FOR - timedelta(minutes=1))
    assert WORDS in body(browser, page(hurt))
    pass_by(row, OPEN_FOR + timedelta(seconds=1))
    assert WORDS not in body(browser, page(hurt))
    open_as(browser, hurt)
    assert body(browser, "/coach/emergencies").count(WHY) == 2
    assert EmergencyAccess.objects.count() == 2 and WORDS in body(browser, page(hurt))


def test_two_taps_open_once_and_tell_once(scene, hurt, signed_in):
    browser = signed_in(scene.coach)
    open_as(browser, hurt), open_as(browser, hurt)
    assert (EmergencyAccess.objects.count(), len(lines())) == (1, 1)
    told = Notice.objects.filter(kind="emergency").values_list("to", flat=True)
    assert sorted(told) == sorted(one.pk for one in (hurt, scene.guardian, scene.admin, scene.welfare))


def test_without_need_or_reason_nothing_opens_and_what_was_typed_stays(scene, hurt, signed_in):
    browser = signed_in(scene.coach)
    for said, words in (
        ({"reason": WHY}, "Nothing was opened. If the athlete cannot speak"),
        ({"cannot_answer": "on", "reason": "  "}, "Write in a few words what has happened. Nothing was opened."),
        ({"cannot_answer": "on", "reason": "x" * 201}, "at most 200 characters"),
    ):
        answered = open_as(browser, hurt, said=said)
        assert answered.status_code == 400
        assert escape(words) in answered.content.decode() and said["reason"] in answered.content.decode()
    assert (EmergencyAccess.objects.count(), Notice.objects.count(), lines()) == (0, 0, [])


def test_whoever_may_read_anyway_opens_nothing_and_alarms_nobody(scene, signed_in):
    for giver in (scene.athlete, scene.guardian):
        answer(scene.athlete, giver, names=(scene.coach,))
    make_pain(scene.training_session, scene.athlete, scene.coach)
    browser = signed_in(scene.coach)
    assert WORDS in body(browser, page(scene.athlete))
    assert page(scene.athlete) not in body(browser, f"/coach/athletes/{scene.athlete.pk}")
    assert open_as(browser, scene.athlete).status_code == 400
    assert (EmergencyAccess.objects.count(), set(lines())) == (0, {("coach", "read", "pain", "CONSENT_OK")})


@pytest.mark.parametrize(("who", "opener"), [("admin", "admin"), ("welfare", "welfare")])
def test_at_a_desk_it_opens_too(scene, hurt, signed_in, who, opener):
    browser = signed_in(getattr(scene, who))
    listed = body(browser, f"/{opener}/emergencies")
    assert "Nothing was opened." in listed and str(hurt.pk) in listed
    chosen = browser.get(f"/{opener}/emergencies", {"athlete": hurt.pk})
    assert chosen["Location"] == page(hurt, opener)
    assert open_as(browser, hurt, opener).status_code == 302
    assert WORDS in body(browser, page(hurt, opener))
    assert lines() == [OPENED, READ]


def test_a_stand_in_of_today_may_and_nobody_else(scene, hurt, signed_in):
    """Beside the contract's three roles everybody finds nothing, a coach whose days are over among them."""
    before = signed_in(scene.other_coach).get(page(hurt)).status_code
    today = today_in(scene.club.timezone)
    make_session(scene.group, day=today, athletes=(hurt,), coaches=(scene.other_coach,))
    unchecked = make_coach(scene.club, "Unca", scene.group, checked=False)
    statuses = {
        who: signed_in(person).get(page(hurt)).status_code
        for who, person in {
            "stand-in": scene.other_coach, "no check": unchecked, "helper": scene.helper, "head": scene.head_coach,
            "guardian": scene.guardian, "self": hurt, "other club": scene.stranger,
        }.items()
    }  # fmt: skip
    assert before == 404
    assert {who for who, status in statuses.items() if status != 404} == {"stand-in"}
    assert open_as(signed_in(unchecked), hurt).status_code == 404
    lists = {one: body(signed_in(one), "/coach/emergencies") for one in (scene.other_coach, unchecked, scene.helper)}
    assert [str(hurt.pk) in found for found in lists.values()] == [True, False, False]
    assert open_as(signed_in(scene.other_coach), hurt).status_code == 302


def test_what_is_only_stored_or_left_does_not_open(scene, hurt, signed_in):
    browser, today = signed_in(scene.coach), today_in(scene.club.timezone)
    open_as(browser, hurt)
    limit = Restriction.objects.create(club=scene.club, athlete=hurt, purpose="health", first_day=today)
    assert WORDS not in body(browser, page(hurt)), "restricted while it was open"
    EmergencyAccess.objects.update(ended_at=utc_now())
    assert open_as(browser, hurt).status_code == 400
    limit.delete()
    Membership.objects.filter(athlete=hurt).update(last_day=today - timedelta(days=1))
    assert open_as(browser, hurt).status_code == 404


def test_a_coach_whose_days_end_reads_no_more(scene, hurt, signed_in):
    browser = signed_in(scene.coach)
    open_as(browser, hurt)
    GroupMembership.objects.filter(athlete=hurt).update(last_day=today_in(scene.club.timezone) - timedelta(days=1))
    scene.training_session.session_coaches.all().delete()
    assert browser.get(page(hurt)).status_code == 404


def test_those_concerned_read_who_and_why_until_they_have_seen_it(scene, hurt, signed_in):
    open_as(signed_in(scene.coach), hurt)
    for who, address in (
        ("athlete", "/today"), ("guardian", "/guardian/family"), ("guardian", "/today"),
        ("welfare", "/welfare/emergencies"), ("admin", "/admin/emergencies"),
    ):  # fmt: skip
        told = body(signed_in(getattr(scene, who)), address)
        assert WHY in told and "Rona Tester" in told and WORDS not in told, (who, address)
    assert "opened the pain notes of Noela Tester" in body(signed_in(scene.admin), "/admin/to-do")
    for who, role, address in (("athlete", "athlete", "/today"), ("guardian", "guardian", "/guardian/family")):
        browser = signed_in(getattr(scene, who))
        notice = Notice.objects.get(kind="emergency", to=getattr(scene, who))
        assert browser.post(f"/{role}/notices/{notice.pk}/seen").status_code == 302
        assert WHY not in body(browser, address)
    notice = Notice.objects.get(kind="emergency", to=scene.admin)
    browser = signed_in(scene.admin)
    assert browser.post(f"/admin/emergencies/{notice.pk}/seen").status_code == 302
    assert "in an emergency" not in body(browser, "/admin/to-do")
    assert WHY in body(browser, "/admin/emergencies"), "the list keeps what was seen"
    assert signed_in(scene.welfare).post(f"/welfare/emergencies/{notice.pk}/seen").status_code == 404


def test_the_athlete_sees_who_looked_and_the_welfare_lead_is_asked_to_look(scene, hurt, signed_in):
    browser = signed_in(scene.coach)
    open_as(browser, hurt), body(browser, page(hurt))
    mine = body(signed_in(hurt), "/athlete/who-looked")
    assert "Emergency access" in mine and "opened pain notes, in an emergency" in mine and "read a pain note" in mine
    log = body(signed_in(scene.welfare), "/welfare/access-log")
    assert "pain notes of 1 athlete opened in an emergency" in log


def test_only_guardians_whom_the_club_may_tell_are_told(scene, hurt, signed_in):
    """A carer may be told, a limited or unchecked guardian not, nor one from whom it is withheld, nor an adult's."""
    today = today_in(scene.club.timezone)
    others = {word: make_guardian(hurt, word.title(), authority=word) for word in ("care", "limited", "unverified")}
    Withholding.objects.create(
        club=scene.club, athlete=hurt, guardian=scene.guardian, set_by=scene.welfare, first_day=today
    )
    adult_guardian = make_guardian(scene.adult_athlete, "Adulta")
    browser = signed_in(scene.coach)
    open_as(browser, hurt), open_as(browser, scene.adult_athlete)
    told = set(Notice.objects.filter(kind="emergency").values_list("to_id", flat=True))
    assert others["care"].pk in told
    assert not told & {others["limited"].pk, others["unverified"].pk, scene.guardian.pk, adult_guardian.pk}
    Guardianship.objects.filter(guardian=others["care"]).update(authority="limited")
    assert WHY not in body(signed_in(others["care"]), "/guardian/family"), "told, but no longer to be told"


def test_mail_leaves_at_once_names_nothing_of_the_notes_and_writes_to_no_minor(scene, hurt, signed_in, settings):
    settings.SENDS_MAIL = True
    for person in (hurt, scene.guardian, scene.admin):
        Person.objects.filter(pk=person.pk).update(email=f"{person.given_name.lower()}@club.test")
    open_as(signed_in(scene.coach), hurt)
    job = Job.objects.get(task="training.mail_emergency")
    assert (job.target_id, mail_emergency(athlete_id=hurt.pk)) == (hurt.pk, 2)
    sent = {one.to[0].split("@")[0]: one.subject + one.body for one in mail.outbox}
    assert sent.keys() == {scene.guardian.given_name.lower(), scene.admin.given_name.lower()}
    for text in sent.values():
        assert "Noela" in text and not any(word in text for word in (WORDS, WHY, "Tester", "knee"))
    assert mail_emergency(athlete_id=hurt.pk) == 0


def test_names_in_the_log_are_pseudonyms(scene, hurt, signed_in):
    open_as(signed_in(scene.coach), hurt)
    known = pseudonyms([hurt.pk, scene.coach.pk], year=now_in("UTC").year, club_id=scene.club.pk)
    line = AccessLogEntry.objects.get(kind="emergency_access")
    assert (line.subject, line.actor, line.fields) == (known[hurt.pk], known[scene.coach.pk], ["reason", "until"])


def test_who_is_told_as_a_guardian_is_not_told_as_a_coach(scene, hurt, signed_in):
    """Who coaches too finds it where it concerns them; seen as a coach it would be gone there."""
    parent = scene.second_coach
    link_guardian(parent, hurt)
    open_as(signed_in(scene.coach), hurt)
    browser, notice = signed_in(parent), Notice.objects.get(kind="emergency", to=parent)
    assert body(browser, "/today").count("in an emergency") == 1
    for role in ("coach", "head-coach"):
        assert browser.post(f"/{role}/notices/{notice.pk}/seen").status_code == 404
    Guardianship.objects.filter(guardian=parent).update(authority="limited")
    assert "in an emergency" not in body(browser, "/today")
    notice.refresh_from_db()
    assert notice.seen_at is None


def test_what_was_typed_lies_on_no_phone(scene, hurt, signed_in):
    browser = signed_in(scene.guardian)
    assert KEEPS in browser.get("/today").headers
    open_as(signed_in(scene.coach), hurt)
    told = browser.get("/today")
    assert WHY in told.content.decode() and KEEPS not in told.headers


def test_the_welfare_lead_finds_it_first_and_the_admin_before_all_else(scene, hurt, signed_in):
    open_as(signed_in(scene.coach), hurt)
    assert (
        "/welfare/emergencies"
        in body(signed_in(scene.welfare), "/welfare/access-log").split("Check the chain")[0].split("<h1")[1]
    )
    first = body(signed_in(scene.admin), "/admin/to-do").split("<li class", 2)[1]
    assert "opened the pain notes of Noela Tester" in first


def test_refused_mail_is_tried_again_for_a_day(scene, hurt, signed_in, settings, monkeypatch):
    settings.SENDS_MAIL = True
    Person.objects.filter(pk=scene.guardian.pk).update(email="guardian@club.test")
    open_as(signed_in(scene.coach), hurt)
    Job.objects.all().delete()

    def refuse(*_args, **_more):
        raise OSError

    with monkeypatch.context() as patched:
        patched.setattr("sessions.services.send_marked.send_mail", refuse)
        assert mail_emergency(athlete_id=hurt.pk) == 0
        [again] = Job.objects.filter(task="training.mail_emergency")
        assert timedelta(minutes=4) < again.due_at - utc_now() <= timedelta(minutes=5)
    assert (mail_emergency(athlete_id=hurt.pk), Job.objects.count()) == (1, 1)
    Notice.objects.update(mailed_at=None, made_at=utc_now() - timedelta(days=2))
    assert (mail_emergency(athlete_id=hurt.pk), Job.objects.count()) == (0, 1)


def test_reading_the_numbers_is_in_the_log(scene, hurt, signed_in):
    ContactNumber.objects.create(club=scene.club, athlete=hurt, name="Gran", relation="grandmother", phone="+353 20 1")
    assert "+353 20 1" in body(signed_in(scene.admin), page(hurt, "admin"))
    [line] = AccessLogEntry.objects.filter(kind="contact")
    assert (line.verb, line.actor_role, line.fields) == ("read", "admin", ["name", "phone"])
    assert "read" in body(signed_in(hurt), "/athlete/who-looked")


def test_a_copy_for_a_guardian_holds_the_reason_only_where_the_guardian_may_view_pain(scene, hurt, signed_in):
    adult = scene.adult_athlete
    guardian = make_guardian(adult, "Adulta")
    answer(adult, adult, purpose="copy", about_guardian=guardian)
    open_as(signed_in(scene.coach), adult)
    assert EmergencyAccess.objects.filter(athlete=adult).exists()
    assert WHY not in body(signed_in(guardian), f"/guardian/copy/{adult.pk}/file")
    assert WHY in body(signed_in(adult), f"/athlete/copy/{adult.pk}/file")
