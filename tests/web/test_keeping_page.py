"""The admin's page of keeping: what waits and its button, holds, the club's periods, what went lately."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from athletes.core.permissions.facts import Purpose
from athletes.core.permissions.keeping import NEVER_SHORTER, PERIOD_DAYS
from athletes.models import AccessLogEntry, ClubPeriod, Hold, KeepingStep
from athletes.selectors.access_log import chain_fault
from athletes.selectors.todo import due_items
from athletes.services.keep import begin_night, keep
from athletes.services.keepers import night_of
from athletes.services.periods import kinds_with_period
from athletes.viewer import viewer_for
from sessions.models import Availability, Entry
from teamtrack.common.clock import today_in, utc_now
from teamtrack.common.models import Job
from tests.entries import make_pain, see
from tests.people import make_athlete


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.HEALTH_KEYS_DIR = tmp_path / "keys"
    settings.ERASURE_LEDGER_FILE = tmp_path / "ledger.jsonl"


def admin_of(scene):
    return viewer_for(scene.admin, "admin")


def run_night(scene, *, later=0):
    run = begin_night(club=scene.club, day=today_in(scene.club.timezone) + timedelta(days=later))
    return keep(run_id=run.pk)


def not_coming(scene, athlete, number, days=16):
    ends = utc_now() - timedelta(days=days)
    Availability.objects.bulk_create(
        Availability(
            club=scene.club, athlete=athlete, starts_at=ends, ends_at=ends, state="run", said_by=athlete,
            said_as="athlete", said_at=ends,
        )
        for _ in range(number)
    )  # fmt: skip


def text(browser, address="/admin/keeping"):
    return " ".join(browser.get(address).content.decode().split())


def test_what_waits_says_whose_and_from_which_day_and_goes_by_its_button(scene, signed_in):
    not_coming(scene, scene.athlete, 51)
    not_coming(scene, scene.child, 2)
    run_night(scene)
    step = KeepingStep.objects.get(state="waits")
    assert "/admin/keeping" in [due.href for due in due_items(admin_of(scene))[0]]
    admin = signed_in(scene.admin)
    shown = text(admin)
    before = night_of(scene.club, step.run.day).before("availability")
    assert f"{before.day} {before:%b} {before.year}" in shown
    assert "53 of 53 rows" in shown
    for words in (f'{scene.athlete.full_name}</span> <span class="quiet">51 rows', "2 rows", "Let 53 rows go"):
        assert words in shown, words
    assert scene.adult_athlete.full_name + "</span>" not in shown
    address = f"/admin/keeping/{step.pk}/confirm"
    for who in (scene.coach, scene.welfare, scene.guardian):
        assert signed_in(who).post(address).status_code == 404
    assert admin.post(address).status_code == 302
    assert Job.objects.filter(task="athletes.keep", target_id=step.run_id).count() == 2
    keep(run_id=step.run_id)
    assert Availability.objects.count() == 0
    assert AccessLogEntry.objects.filter(actor_role="admin", verb="confirmed", code="NOT_COMING").count() == 1
    again = admin.post(address)
    assert (again.status_code, "does not wait any more" in again.content.decode()) == (400, True)
    shown = text(admin)
    assert "Nothing waits." in shown
    assert "53 rows, its time was up" in shown


def test_what_is_held_since_the_night_is_not_promised_to_go(scene, signed_in):
    not_coming(scene, scene.athlete, 51)
    not_coming(scene, scene.child, 2)
    run_night(scene)
    admin = signed_in(scene.admin)
    admin.post("/admin/keeping/holds", {"athlete_id": scene.child.pk, "reference": "Folder"})
    shown = text(admin)
    assert "53 of 53 rows" in shown and "Let 51 rows go" in shown and "2 rows are held since" in shown
    step = KeepingStep.objects.get(state="waits")
    admin.post(f"/admin/keeping/{step.pk}/confirm")
    keep(run_id=step.run_id)
    assert set(Availability.objects.values_list("athlete", flat=True)) == {scene.child.pk}


def test_a_step_of_another_club_is_absent(scene, signed_in):
    not_coming(scene, scene.athlete, 51)
    run_night(scene)
    KeepingStep.objects.filter(state="waits").update(club=scene.stranger_club)
    step = KeepingStep.objects.get(state="waits")
    assert signed_in(scene.admin).post(f"/admin/keeping/{step.pk}/confirm").status_code == 404
    step.refresh_from_db()
    assert step.state == "waits"


def test_whose_pain_notes_wait_is_told_to_no_admin(scene, signed_in):
    for _ in range(51):
        make_pain(scene.training_session, scene.adult_athlete, scene.coach)
    Entry.objects.update(received_at=utc_now() - timedelta(days=400))
    run_night(scene)
    assert KeepingStep.objects.get(state="waits").kind == "health"
    shown = text(signed_in(scene.admin))
    waits = shown[shown.index("What waits for you") : shown.index("The last night")]
    assert "51 of 51 rows" in waits
    assert scene.adult_athlete.full_name not in waits
    assert "is not told here" in waits


def test_a_hold_is_put_looked_at_and_lifted_and_each_is_logged(scene, signed_in):
    old = see(scene.training_session, scene.child, scene.coach, 1, "held")
    Entry.objects.filter(pk=old.pk).update(received_at=utc_now() - timedelta(days=800))
    admin, today = signed_in(scene.admin), admin_of(scene).today
    said = {"athlete_id": scene.child.pk, "reference": "Folder B, 12", "review_on": f"{today + timedelta(days=10)}"}
    assert signed_in(scene.welfare).post("/admin/keeping/holds", said).status_code == 404
    assert admin.post("/admin/keeping/holds", said).status_code == 302
    hold = Hold.objects.get()
    assert (hold.set_by, hold.review_by) == (scene.admin, today + timedelta(days=10))
    assert "Folder B, 12" in text(admin)
    assert "/admin/keeping#holds" in [due.href for due in due_items(admin_of(scene))[0]]
    run_night(scene)
    assert Entry.objects.filter(pk=old.pk).exists()
    assert admin.post("/admin/keeping/holds", said).status_code == 409
    assert admin.post(f"/admin/keeping/holds/{hold.pk}/review").status_code == 302
    hold.refresh_from_db()
    assert hold.review_by == today + timedelta(days=90)
    assert "/admin/keeping#holds" not in [due.href for due in due_items(admin_of(scene))[0]]
    assert signed_in(scene.coach).post(f"/admin/keeping/holds/{hold.pk}/lift").status_code == 404
    assert admin.post(f"/admin/keeping/holds/{hold.pk}/lift").status_code == 302
    assert admin.post(f"/admin/keeping/holds/{hold.pk}/lift").status_code == 409
    run_night(scene, later=1)
    assert not Entry.objects.filter(pk=old.pk).exists()
    lines = AccessLogEntry.objects.filter(kind="hold").order_by("seq")
    assert [(line.verb, line.actor_role) for line in lines] == [
        ("set", "admin"), ("extend", "admin"), ("closed", "admin"),
    ]  # fmt: skip
    assert "Folder B" not in "".join(str(line.fields) + line.code for line in AccessLogEntry.objects.all())
    assert chain_fault(club_id=scene.club.pk) is None


@pytest.mark.parametrize(
    ("whose", "reference", "days", "status"),
    [
        ("child", " ", None, 400), ("child", "x" * 61, None, 400), ("child", "Folder", 91, 400),
        ("child", "Folder", 0, 400), ("stranger_athlete", "Folder", None, 404), ("coach", "Folder", None, 404),
    ],
)  # fmt: skip
def test_a_bad_hold_changes_nothing_and_keeps_what_was_typed(scene, signed_in, whose, reference, days, status):
    day = "" if days is None else str(admin_of(scene).today + timedelta(days=days))
    said = {"athlete_id": getattr(scene, whose).pk, "reference": reference, "review_on": day}
    answered = signed_in(scene.admin).post("/admin/keeping/holds", said)
    assert answered.status_code == status
    assert Hold.objects.count() == 0
    if status == 400:
        body = answered.content.decode()
        assert f'name="reference" maxlength="60" required autocomplete="off" value="{reference}"' in body
        assert f'<option value="{scene.child.pk}" selected>' in body


def test_the_hold_of_another_club_is_absent(scene, signed_in):
    today = today_in(scene.club.timezone)
    hold = Hold.objects.create(
        club=scene.stranger_club, athlete=scene.stranger_athlete, reference="A", set_on=today, set_by=scene.stranger,
        review_by=today,
    )  # fmt: skip
    admin = signed_in(scene.admin)
    for step in ("lift", "review"):
        assert admin.post(f"/admin/keeping/holds/{hold.pk}/{step}").status_code == 404


def set_period(browser, kind, **said):
    return browser.post("/admin/keeping/periods", {"kind": kind} | said)


def test_a_shorter_period_counts_from_the_next_night_and_can_be_taken_back(scene, signed_in):
    new = see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    Entry.objects.filter(pk=new.pk).update(received_at=utc_now() - timedelta(days=200))
    admin = signed_in(scene.admin)
    run_night(scene)
    assert Entry.objects.filter(pk=new.pk).exists()
    assert set_period(admin, "feedback", days="180").status_code == 302
    assert "180 days, the club" in text(admin)
    run_night(scene, later=1)
    assert not Entry.objects.filter(pk=new.pk).exists()
    assert set_period(admin, "feedback", days="").status_code == 302
    assert ClubPeriod.objects.count() == 0
    said = list(AccessLogEntry.objects.filter(kind="period").order_by("seq").values_list("fields", flat=True))
    assert said == [["feedback", "180"], ["feedback", "730"]]


@pytest.mark.parametrize("kind", sorted(PERIOD_DAYS))
def test_the_page_takes_a_period_exactly_where_the_decision_would_count_it(scene, signed_in, kind):
    """The contract: shorter, save of proof; longer only with its reason in the notice."""
    admin, usual = signed_in(scene.admin), PERIOD_DAYS[Purpose(kind)]
    if kind not in kinds_with_period():
        assert set_period(admin, kind, days=str(usual - 1)).status_code in (400, 404)
        return
    shorter = set_period(admin, kind, days=str(usual - 1))
    assert shorter.status_code == (400 if kind in NEVER_SHORTER else 302)
    longer = {"days": str(usual + 1), "reason": "Our association asks for it"}
    for said in (longer, {"days": str(usual + 1), "reason_shown": "on"}):
        refused = set_period(admin, kind, **said)
        assert refused.status_code == 400
        assert f'value="{usual + 1}"' in refused.content.decode()
        assert said.get("reason", "") in refused.content.decode()
    assert not ClubPeriod.objects.filter(days=usual + 1).exists()
    assert set_period(admin, kind, reason_shown="on", **longer).status_code == 302
    night = night_of(scene.club, admin_of(scene).today)
    assert (night.day - night.before(kind)).days == usual + 1


@pytest.mark.parametrize("days", ["0", "-3", "1.5", "36501", "soon"])
def test_a_bad_number_of_days_stays_in_its_field(scene, signed_in, days):
    answered = set_period(signed_in(scene.admin), "feedback", days=days, reason="because")
    assert answered.status_code == 400
    assert f'value="{days}"' in answered.content.decode()
    assert "because" in answered.content.decode()
    assert ClubPeriod.objects.count() == 0


def test_the_record_has_no_period_to_set(scene, signed_in):
    assert "record" not in kinds_with_period()
    assert set_period(signed_in(scene.admin), "record", days="5").status_code == 404
    assert set_period(signed_in(scene.admin), "ranking", days="5").status_code == 400


def test_the_number_of_queries_does_not_grow_with_rows(scene, signed_in):
    """Nothing, 3 and 30 athletes whose rows wait, 3 and 30 holds, lines of the ledger."""
    not_coming(scene, scene.athlete, 60)
    admin, counts = signed_in(scene.admin), []
    today = today_in(scene.club.timezone)
    for number, more in enumerate((0, 3, 27)):
        for index in range(more):
            athlete = make_athlete(scene.club, f"More{number}-{index}", scene.group, account=False)
            not_coming(scene, athlete, 2)
            Hold.objects.create(
                club=scene.club, athlete=athlete, reference="A", set_on=today, set_by=scene.admin, review_by=today
            )
        run_night(scene, later=number)
        with CaptureQueriesContext(connection) as queries:
            assert admin.get("/admin/keeping").status_code == 200
        counts.append(len(queries))
    assert len(set(counts)) == 1, counts
