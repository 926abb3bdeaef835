"""Erasure from the family's page to its end: asked, due, done by an admin; rows gone, and what was kept and why."""

from datetime import timedelta

import pytest

from athletes.access import answers_for
from athletes.core.asking import due_on
from athletes.core.permissions import Code
from athletes.health_key import key_file
from athletes.models import (
    AccessLogEntry,
    DataRequest,
    HealthKey,
    Hold,
    LedgerLine,
    Membership,
    PermissionEvent,
    Person,
)
from athletes.permission_words import sentence_for
from athletes.selectors.access_log import chain_fault
from athletes.selectors.requests import WHAT
from athletes.selectors.todo import due_items
from athletes.services.holds import lift_hold, set_hold
from athletes.services.ledger import ledger_file
from athletes.viewer import viewer_for
from sessions.models import Entry, ErasedEntry, PainDetail, SessionAthlete
from tests.entries import make_entry, make_pain, pains_kept, see
from tests.people import answer

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.HEALTH_KEYS_DIR = tmp_path / "keys"
    settings.ERASURE_LEDGER_FILE = tmp_path / "ledger.jsonl"


def page(browser, address):
    answered = browser.get(address)
    assert answered.status_code == 200
    return " ".join(answered.content.decode().split())


def asked(signed_in, who, athlete, wanted):
    """The request, asked on the family's own page."""
    role = "athlete" if who == athlete else "guardian"
    before = set(DataRequest.objects.values_list("pk", flat=True))
    said = {"wanted": wanted, "words": "Please take it away"}
    assert signed_in(who).post(f"/{role}/requests/{athlete.pk}/ask", said).status_code == 302
    return DataRequest.objects.exclude(pk__in=before).get()


def family_page(signed_in, who, athlete):
    own = who == athlete
    return page(signed_in(who), "/athlete/requests" if own else f"/guardian/requests/{athlete.pk}")


def end(signed_in, scene, row, how="done"):
    """The admin's act with the letter and the reasons that the page offers."""
    admin = signed_in(scene.admin)
    form = admin.get(f"/admin/requests/{row.pk}").context["end_form"]
    said = {"answer": form.initial["answer"], "kept": form.initial["kept"] or "Nothing.", "end": how}
    return admin.post(f"/admin/requests/{row.pk}/end", said)


@pytest.mark.parametrize(("who", "whose"), [("adult_athlete", "adult_athlete"), ("guardian", "child")])
def test_pain_notes_from_the_wish_to_gone(scene, signed_in, who, whose, django_capture_on_commit_callbacks):
    who, athlete = getattr(scene, who), getattr(scene, whose)
    session = scene.training_session
    answer(athlete, who, names=(scene.coach,))
    answer(scene.athlete, scene.athlete, names=(scene.coach,))
    answer(scene.athlete, scene.guardian, names=(scene.coach,))
    pain, others = make_pain(session, athlete, scene.coach), make_pain(session, scene.athlete, scene.coach)
    seen = see(session, athlete, scene.coach, 1, "held")
    key = HealthKey.objects.get(athlete=athlete).pk
    assert key_file(key).exists()

    row = asked(signed_in, who, athlete, "erasure health")
    today = viewer_for(scene.admin, "admin").today
    assert (row.received_on, row.due_on, row.code) == (today, due_on(today), Code.ERASE)
    assert "Answered by" in family_page(signed_in, who, athlete)
    assert f"/admin/requests/{row.pk}" in [due.href for due in due_items(viewer_for(scene.admin, "admin"))[0]]
    admin_page = page(signed_in(scene.admin), f"/admin/requests/{row.pk}")
    assert sentence_for(Code.ERASE) in admin_page
    assert PainDetail.objects.filter(entry=pain).exists()

    with django_capture_on_commit_callbacks(execute=True):
        assert end(signed_in, scene, row).status_code == 302

    row.refresh_from_db()
    assert (row.state, row.ended_on, row.acted_by) == ("done", today, scene.admin)
    assert {entry.pk for entry, _said in pains_kept()} == {others.pk}
    assert set(Entry.objects.values_list("pk", flat=True)) == {others.pk, seen.pk}
    assert ErasedEntry.objects.get().entry_id == pain.pk
    assert not HealthKey.objects.filter(athlete=athlete).exists()
    assert not key_file(key).exists()
    assert str(pain.pk) in ledger_file().read_text()
    assert {line.why for line in LedgerLine.objects.filter(what="pain_notes")} == {"asked"}
    assert PermissionEvent.objects.filter(athlete=athlete).exists()
    told = family_page(signed_in, who, athlete)
    for words in ("done", "It has been taken away", "stay for their own time, as proof"):
        assert words in told, words
    assert f"/admin/requests/{row.pk}" not in [due.href for due in due_items(viewer_for(scene.admin, "admin"))[0]]
    lines = AccessLogEntry.objects.order_by("seq").values_list("verb", "kind", "code")
    assert [line for line in lines if line[0] in ("ask", "removed", "closed")] == [
        ("ask", "data_request", "ERASURE"), ("removed", "health", "ERASE"), ("closed", "data_request", "DONE"),
    ]  # fmt: skip
    assert chain_fault(club_id=scene.club.pk) is None
    assert "pain and injuries: 1 row, was asked for" in page(signed_in(scene.admin), "/admin/keeping")


@pytest.mark.parametrize("what", sorted(set(WHAT["erasure"]) - {"health", "feedback"}))
def test_what_membership_needs_stays_while_a_member_and_goes_after_leaving(scene, signed_in, what):
    athlete, session = scene.adult_athlete, scene.training_session
    make_entry(session, "presence", athlete, scene.coach)
    make_entry(session, "felt", athlete, athlete)
    row = asked(signed_in, athlete, athlete, f"erasure {what}")
    assert row.code == Code.OBJECTION_ROUTE
    refused = end(signed_in, scene, row)
    assert refused.status_code == 400
    assert sentence_for(Code.OBJECTION_ROUTE) in refused.content.decode()
    row.refresh_from_db()
    assert row.state == "open"
    assert Entry.objects.filter(athlete=athlete).count() == 2

    Membership.objects.filter(athlete=athlete).update(
        last_day=viewer_for(scene.admin, "admin").today - timedelta(days=1)
    )
    assert end(signed_in, scene, row).status_code == 302
    left = {
        "record": Person.objects.get(pk=athlete.pk).given_name,
        "attendance": Entry.objects.filter(athlete=athlete, kind="presence").count()
        + SessionAthlete.objects.filter(athlete=athlete).count(),
        "log": Entry.objects.filter(athlete=athlete, kind="felt").count(),
    }
    for kind, found in left.items():
        assert bool(found) == (kind != what), kind
    assert Person.objects.get(pk=scene.athlete.pk).given_name


def test_what_is_not_followed_is_told_with_its_reason_and_nothing_goes(scene, signed_in):
    seen = see(scene.training_session, scene.child, scene.coach, 1, "held")
    today = viewer_for(scene.admin, "admin").today
    Hold.objects.create(
        club=scene.club, athlete=scene.child, reference="A1", set_on=today, set_by=scene.admin, review_by=today
    )
    row = asked(signed_in, scene.guardian, scene.child, "erasure feedback")
    assert row.code == Code.LEGAL_HOLD
    assert end(signed_in, scene, row).status_code == 400
    assert end(signed_in, scene, row, how="refused").status_code == 302
    told = family_page(signed_in, scene.guardian, scene.child)
    assert "not followed" in told and "kept for a legal reason" in told
    assert "A1" not in told
    assert Entry.objects.filter(pk=seen.pk).exists()


def test_what_a_hold_keeps_is_hidden_and_goes_once_it_is_lifted(scene, signed_in):
    """The contract: LEGAL_HOLD, hidden meanwhile."""
    seen = see(scene.training_session, scene.child, scene.coach, 1, "held")
    admin = viewer_for(scene.admin, "admin")
    hold = set_hold(viewer=admin, athlete_id=scene.child.pk, reference="A1")
    row = asked(signed_in, scene.guardian, scene.child, "erasure feedback")
    assert may_coach_use(scene, scene.child, "feedback")
    assert end(signed_in, scene, row, how="refused").status_code == 302
    assert not may_coach_use(scene, scene.child, "feedback")
    assert may_coach_use(scene, scene.child, "record")
    lift_hold(viewer=admin, hold_id=hold.pk)
    row.refresh_from_db()
    assert (row.state, row.due_on, row.acted_by) == ("open", due_on(admin.today), None)
    assert not may_coach_use(scene, scene.child, "feedback")
    assert Entry.objects.filter(pk=seen.pk).exists()
    assert end(signed_in, scene, row).status_code == 302
    assert not Entry.objects.filter(pk=seen.pk).exists()
    assert may_coach_use(scene, scene.child, "feedback")


@pytest.mark.parametrize("how", ["refused", "taken back"])
def test_what_is_not_erased_after_a_hold_is_used_again(scene, signed_in, how):
    admin = viewer_for(scene.admin, "admin")
    hold = set_hold(viewer=admin, athlete_id=scene.child.pk, reference="A1")
    row = asked(signed_in, scene.guardian, scene.child, "erasure feedback")
    end(signed_in, scene, row, how="refused")
    lift_hold(viewer=admin, hold_id=hold.pk)
    if how == "refused":
        assert end(signed_in, scene, row, how="refused").status_code == 302
    else:
        assert signed_in(scene.guardian).post(f"/guardian/requests/{row.pk}/take-back").status_code == 302
    assert may_coach_use(scene, scene.child, "feedback")


def may_coach_use(scene, athlete, purpose):
    viewer = viewer_for(scene.coach, "coach")
    return answers_for(viewer=viewer, athletes=[athlete], purposes=[purpose]).may(athlete.pk, purpose)


def test_form_history_goes_and_the_log_of_others_reading_it_stays(scene, signed_in):
    seen = see(scene.training_session, scene.child, scene.coach, 1, "held")
    page(signed_in(scene.coach), f"/coach/athletes/{scene.child.pk}")
    before = AccessLogEntry.objects.count()
    row = asked(signed_in, scene.guardian, scene.child, "erasure feedback")
    assert end(signed_in, scene, row).status_code == 302
    assert not Entry.objects.filter(pk=seen.pk).exists()
    assert AccessLogEntry.objects.count() >= before + 3
    assert chain_fault(club_id=scene.club.pk) is None
