"""Data requests: a clock each, restriction and objection at once, an answer with what is kept and why."""

from datetime import timedelta

import pytest

from athletes.access import answers_for
from athletes.core.asking import due_on
from athletes.core.permissions import Code
from athletes.models import AccessLogEntry, DataRequest, Guardianship, Objection
from athletes.permission_words import sentence_for
from athletes.viewer import viewer_for
from tests.people import answer


def post(client, address, **fields):
    return client.post(address, fields).status_code


def may_coach_use(scene, athlete, purpose):
    viewer = viewer_for(scene.coach, "coach")
    return answers_for(viewer=viewer, athletes=[athlete], purposes=[purpose]).may(athlete.pk, purpose)


def ask(scene, signed_in, wanted, athlete=None, who=None, **more):
    athlete, who = athlete or scene.child, who or scene.guardian
    role = "athlete" if who == athlete else "guardian"
    status = post(signed_in(who), f"/{role}/requests/{athlete.pk}/ask", wanted=wanted, **more)
    row = DataRequest.objects.exclude(pk=scene.data_request.pk).filter(athlete=athlete).order_by("pk").last()
    return status, row


def test_the_month_begins_with_the_day_it_came_in(scene, signed_in):
    status, row = ask(scene, signed_in, "access")
    assert (status, row.state) == (302, "open")
    assert ask(scene, signed_in, "access") == (302, row)  # the form sent twice
    assert row.due_on == due_on(row.received_on)
    assert str(row.due_on.year) in signed_in(scene.admin).get("/admin/requests").content.decode()
    assert AccessLogEntry.objects.filter(kind="data_request", verb="ask").count() == 1


@pytest.mark.parametrize("wanted", ["restriction feedback", "objection feedback"])
def test_storing_only_and_objecting_act_at_once_and_end_when_taken_back(scene, signed_in, wanted):
    assert may_coach_use(scene, scene.child, "feedback")
    _status, row = ask(scene, signed_in, wanted)
    assert not may_coach_use(scene, scene.child, "feedback")
    assert may_coach_use(scene, scene.child, "record")
    assert post(signed_in(scene.guardian), f"/guardian/requests/{row.pk}/take-back") == 302
    assert may_coach_use(scene, scene.child, "feedback")


def test_an_objection_that_is_followed_hides_and_one_that_is_not_opens_again(scene, signed_in):
    admin = signed_in(scene.admin)
    _status, row = ask(scene, signed_in, "objection feedback")
    assert post(admin, f"/admin/requests/{row.pk}/end", end="done", answer="We follow it.") == 302
    assert not may_coach_use(scene, scene.child, "feedback")
    assert Objection.objects.filter(athlete=scene.child, purpose="feedback").count() == 1
    _status, other = ask(scene, signed_in, "objection feedback", athlete=scene.athlete, who=scene.athlete)
    assert not may_coach_use(scene, scene.athlete, "feedback")
    assert post(admin, f"/admin/requests/{other.pk}/end", end="refused", answer="It is needed.") == 302
    assert may_coach_use(scene, scene.athlete, "feedback")


def test_two_months_more_once_and_with_a_reason(scene, signed_in):
    admin = signed_in(scene.admin)
    _status, row = ask(scene, signed_in, "access")
    address = f"/admin/requests/{row.pk}/extend"
    assert post(admin, address, because="") == 400
    assert post(admin, address, because="Three years of paper") == 302
    row.refresh_from_db()
    assert row.due_on == due_on(row.received_on, is_extended=True)
    assert post(admin, address, because="again") == 409
    told = signed_in(scene.guardian).get(f"/guardian/requests/{row.athlete_id}").content.decode()
    assert "Three years of paper" in told


def test_no_end_without_a_text_and_none_in_the_own_case(scene, signed_in):
    admin = signed_in(scene.admin)
    _status, row = ask(scene, signed_in, "access")
    assert post(admin, f"/admin/requests/{row.pk}/end", end="done", answer=" ") == 400
    link = Guardianship.objects.create(
        club=scene.club, guardian=scene.admin, athlete=scene.child, authority="full", first_day=row.received_on
    )
    assert post(admin, f"/admin/requests/{row.pk}/end", end="done", answer="Here it is.") == 400
    link.delete()
    assert post(admin, f"/admin/requests/{row.pk}/end", end="done", answer="Here it is.", kept="Nothing.") == 302
    assert "Here it is." in signed_in(scene.guardian).get(f"/guardian/requests/{row.athlete_id}").content.decode()
    assert post(admin, f"/admin/requests/{row.pk}/end", end="done", answer="Twice") == 409


@pytest.mark.parametrize(
    ("wanted", "athlete", "code"),
    [
        ("erasure record", "child", "OBJECTION_ROUTE"),
        ("erasure health", "child", "ERASE"),
        ("erasure health", "athlete", "ATHLETE_MUST_AGREE"),
        ("access", "child", "ON_BEHALF"),
        ("export", "athlete", "HUMAN_DECIDES"),
    ],
)
def test_the_decision_is_told_to_whoever_answers(scene, signed_in, wanted, athlete, code):
    _status, row = ask(scene, signed_in, wanted, athlete=getattr(scene, athlete))
    assert row.code == code


def test_erasing_asks_the_decision_again_on_the_day(scene, signed_in):
    _status, row = ask(scene, signed_in, "erasure health", athlete=scene.athlete)
    admin = signed_in(scene.admin)
    refused = admin.post(f"/admin/requests/{row.pk}/end", {"end": "done", "answer": "Gone."})
    assert refused.status_code == 400
    assert f"<p>{sentence_for(Code.ATHLETE_MUST_AGREE)}</p>" in refused.content.decode()
    row.refresh_from_db()
    assert row.state == "open"
    answer(scene.athlete, scene.athlete, "erasure", "yes", about_guardian=scene.guardian)
    text = admin.post(f"/admin/requests/{row.pk}/end", {"end": "done", "answer": "Gone."}).content.decode()
    assert f"<p>{sentence_for(Code.ATHLETE_MUST_AGREE)}</p>" not in text


@pytest.mark.parametrize("wanted", ["", "correction record", "erasure", "ranking", "access feedback", "erasure audit"])
def test_a_bad_wish_sends_nothing_and_keeps_the_words(scene, signed_in, wanted):
    before = DataRequest.objects.count()
    words = "" if wanted.startswith("correction") else "keep these"
    answered = signed_in(scene.guardian).post(
        f"/guardian/requests/{scene.child.pk}/ask", {"wanted": wanted, "words": words}
    )
    assert answered.status_code == 400
    assert words in answered.content.decode()
    assert DataRequest.objects.count() == before


def test_a_late_one_says_so(scene, signed_in):
    DataRequest.objects.update(due_on=scene.data_request.received_on - timedelta(days=1))
    assert "Late" in signed_in(scene.admin).get("/admin/requests").content.decode()


def test_paper_is_entered_for_the_family_alone(scene, signed_in):
    admin = signed_in(scene.admin)
    fields = {"athlete": scene.child.pk, "wanted": "restriction feedback"}
    assert post(admin, "/admin/requests/enter", asked_by=scene.coach.pk, **fields) == 400
    assert post(admin, "/admin/requests/enter", asked_by=scene.care_guardian.pk, **fields) == 400
    assert post(admin, "/admin/requests/enter", asked_by=scene.guardian.pk, **fields) == 302
    assert not may_coach_use(scene, scene.child, "feedback")
