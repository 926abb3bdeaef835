"""The nightly run, erasure, backup and restore: what is over goes, what is held stays, nothing comes back."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, transaction
from django.db.models import ForeignKey, ManyToManyField

from athletes.core.keeping import must_wait
from athletes.core.permissions import decide
from athletes.core.permissions.facts import Act, Facts, Purpose
from athletes.health_key import key_file
from athletes.models import (
    AccessLogEntry,
    HealthKey,
    Hold,
    KeepingStep,
    KeptKind,
    LedgerLine,
    PermissionEvent,
    Person,
    PseudonymKey,
)  # fmt: skip
from athletes.selectors.access_log import chain_fault
from athletes.services.erase import erase_kind
from athletes.services.keep import begin_night, confirm_step, keep
from athletes.services.keepers import all_keepers, night_of, tables_known
from athletes.services.ledger import ledger_file
from athletes.services.record_permission import withdraw_permission
from athletes.viewer import viewer_for
from sessions.models import Availability, Entry, ErasedEntry, PainDetail
from teamtrack.common.clock import today_in, utc_now
from tests.entries import make_pain, pains_kept, see
from tests.people import answer


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.HEALTH_KEYS_DIR = tmp_path / "keys"
    settings.ERASURE_LEDGER_FILE = tmp_path / "ledger.jsonl"
    settings.LOG_HEADS_FILE = tmp_path / "heads.jsonl"
    return tmp_path


def run_night(club, day=None):
    run = begin_night(club=club, day=day or today_in(club.timezone))
    return keep(run_id=run.pk)


def aged(entry, days):
    Entry.objects.filter(pk=entry.pk).update(received_at=utc_now() - timedelta(days=days))
    return entry


def permitted(scene):
    for giver in (scene.athlete, scene.guardian):
        answer(scene.athlete, giver, names=(scene.coach,))


def test_every_table_about_people_has_a_keeper_or_says_why_not():
    known = tables_known()
    without = []
    for model in apps.get_models(include_auto_created=True):
        about = [
            field for field in model._meta.get_fields()
            if isinstance(field, ForeignKey) and field.related_model is Person
        ]  # fmt: skip
        if about and model not in known and model is not Person:
            without.append(model._meta.label)
    assert without == []
    assert Person in {keeper.model for keeper in all_keepers()}
    assert not any(isinstance(field, ManyToManyField) for field in Person._meta.many_to_many)


def test_waiting_is_the_contract_s_rule_in_whole_numbers():
    assert [must_wait(due=due, total=total) for due, total in ((50, 50), (51, 1020), (51, 1019), (51, 51))] == [
        False, False, True, True,
    ]  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize("kind", sorted(set(KeptKind.values) - {"record"}))
def test_a_night_counts_days_as_the_one_decision_does(scene, kind):
    night = night_of(scene.club, today_in(scene.club.timezone))
    for days in (*range(40), *range(170, 190), *range(360, 370), *range(725, 740), *range(1090, 1100)):
        said = decide(Facts(act=Act.KEEP, purpose=Purpose(kind), days_kept=days))
        assert (night.day - timedelta(days=days) < night.before(kind)) == (said.code == "PERIOD_OVER"), days


@pytest.mark.django_db
def test_what_is_over_goes_what_is_held_or_new_stays(scene, django_capture_on_commit_callbacks):
    permitted(scene)
    answer(scene.adult_athlete, scene.adult_athlete, names=(scene.coach,))
    session = scene.training_session
    old, new = (see(session, scene.athlete, scene.coach, 1, "held") for _ in range(2))
    held = aged(see(session, scene.child, scene.coach, 1, "held"), 731)
    aged(old, 731), aged(new, 730)
    pain = aged(make_pain(session, scene.athlete, scene.coach), 366)
    fresh = aged(make_pain(session, scene.adult_athlete, scene.coach), 365)
    today = today_in(scene.club.timezone)
    Hold.objects.create(
        club=scene.club, athlete=scene.child, reference="A1", set_on=today, set_by=scene.admin, review_by=today
    )
    key = HealthKey.objects.get(athlete=scene.athlete).pk
    with django_capture_on_commit_callbacks(execute=True):
        run_night(scene.club)
    assert set(Entry.objects.values_list("pk", flat=True)) == {new.pk, held.pk, fresh.pk}
    assert not key_file(key).exists()
    assert [entry.pk for entry, _said in pains_kept()] == [fresh.pk]
    assert {line.what for line in LedgerLine.objects.all()} == {"what_coaches_saw", "pain_notes", "health_key", "hold"}
    assert str(pain.pk) in ledger_file().read_text()
    assert chain_fault(club_id=scene.club.pk) is None
    assert AccessLogEntry.objects.filter(actor_role="server", verb="removed").count() == 2


@pytest.mark.django_db
def test_health_goes_30_days_after_it_was_stopped(scene):
    permitted(scene)
    make_pain(scene.training_session, scene.athlete, scene.coach)
    today = today_in(scene.club.timezone)
    answer(scene.athlete, scene.guardian, "health", "withdrawn", at=utc_now())
    run_night(scene.club, today)
    run_night(scene.club, today + timedelta(days=30))
    assert PainDetail.objects.count() == 1
    run_night(scene.club, today + timedelta(days=31))
    assert PainDetail.objects.count() == 0


@pytest.mark.django_db
def test_much_waits_for_an_admin(scene):
    ends = utc_now() - timedelta(days=16)
    Availability.objects.bulk_create(
        Availability(
            club=scene.club, athlete=scene.athlete, starts_at=ends, ends_at=ends, state="run", said_by=scene.athlete,
            said_as="athlete", said_at=ends,
        )
        for _ in range(51)
    )  # fmt: skip
    run_night(scene.club)
    step = KeepingStep.objects.get(keeper="not_coming")
    assert (step.state, step.due, step.removed, Availability.objects.count()) == ("waits", 51, 0, 51)
    run_night(scene.club, today_in(scene.club.timezone) + timedelta(days=1))
    step.refresh_from_db()
    assert step.state == "overtaken"
    step = KeepingStep.objects.get(keeper="not_coming", state="waits")
    confirm_step(viewer=viewer_for(scene.admin, "admin"), step_id=step.pk)
    keep(run_id=step.run_id)
    assert Availability.objects.count() == 0


@pytest.mark.django_db
def test_who_left_is_blanked_and_keys_of_old_years_go_while_the_chain_stays(scene):
    today = today_in(scene.club.timezone)
    scene.athlete.memberships.update(last_day=today - timedelta(days=31))
    see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    PseudonymKey.objects.create(person=scene.coach, year=today.year - 4, key=b"x", pseudonym="old")
    run_night(scene.club)
    gone = Person.objects.get(pk=scene.athlete.pk)
    assert (gone.given_name, gone.birth_date, gone.left_on) == ("", None, today)
    assert Person.objects.get(pk=scene.guardian.pk).given_name  # still answers for another child
    assert Entry.objects.filter(athlete=gone).exists()
    assert not PseudonymKey.objects.filter(year=today.year - 4).exists()
    assert chain_fault(club_id=scene.club.pk) is None


class Fault(Exception):
    """The server dies here."""


def dies_at(number):
    seen = [0]

    def wrapper(execute, sql, params, many, context):
        if not sql.startswith(("SAVEPOINT", "RELEASE", "ROLLBACK", "BEGIN")):
            seen[0] += 1
            if seen[0] == number:
                raise Fault
        return execute(sql, params, many, context)

    return wrapper


def with_faults(work, check, step=1):
    """Run `work` with a fault at each statement in turn, `check` after each, until it comes through."""
    number = 1
    while True:
        try:
            with connection.execute_wrapper(dies_at(number)):
                work()
        except Fault:
            check()
            number += step
        else:
            return number


@pytest.mark.django_db(transaction=True)
def test_a_night_that_dies_at_any_statement_is_taken_up(scene):
    permitted(scene)
    for _ in range(3):
        aged(see(scene.training_session, scene.athlete, scene.coach, 1, "held"), 800)
    aged(make_pain(scene.training_session, scene.athlete, scene.coach), 800)
    run = begin_night(club=scene.club, day=today_in(scene.club.timezone))

    def check():
        noted = sum(len(line.ids) for line in LedgerLine.objects.exclude(what="health_key"))
        assert noted + Entry.objects.count() == 4
        assert sum(KeepingStep.objects.values_list("removed", flat=True)) == noted

    tried = with_faults(lambda: keep(run_id=run.pk), check)
    assert tried > 50
    assert Entry.objects.count() == 0 and not list(key_file(run.pk).parent.iterdir())
    assert keep(run_id=run.pk).state == "done"


@pytest.mark.django_db(transaction=True)
def test_an_erasure_that_dies_at_any_statement_has_done_nothing(scene):
    make_pain(scene.training_session, scene.athlete, scene.coach)
    see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    viewer = viewer_for(scene.admin, "admin")

    def work():
        erase_kind(viewer=viewer, athlete=scene.athlete, kind="health")

    def check():
        assert Entry.objects.count() == 2 and PainDetail.objects.count() == 1
        assert len(pains_kept()) == 1 and LedgerLine.objects.count() == 0

    assert with_faults(work, check) > 10
    assert Entry.objects.count() == 1 and ErasedEntry.objects.count() == 1
    assert LedgerLine.objects.filter(why="asked").count() == 1


@pytest.mark.django_db(transaction=True)
def test_no_restore_brings_back_what_was_erased_nor_turns_a_no_into_a_yes(scene, folders):
    permitted(scene)
    erased = make_pain(scene.training_session, scene.athlete, scene.coach)
    stays = see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    call_command("backup", str(folders / "backups"))
    withdraw_permission(viewer=viewer_for(scene.guardian, "guardian"), athlete_id=scene.athlete.pk, purpose="health")
    with transaction.atomic():
        erase_kind(viewer=viewer_for(scene.admin, "admin"), athlete=scene.athlete, kind="health")
    assert not list((folders / "keys").iterdir())
    with pytest.raises(CommandError, match="not empty"):
        call_command("restore", str(folders / "backups"))
    call_command("restore", str(folders / "backups"), "--replace")
    assert set(Entry.objects.values_list("pk", flat=True)) == {stays.pk}
    assert PainDetail.objects.count() == 0
    assert ErasedEntry.objects.get().entry_id == erased.pk
    latest = PermissionEvent.objects.filter(athlete=scene.athlete, giver=scene.guardian).order_by("at").last()
    assert latest.answer == "withdrawn"
    assert chain_fault(club_id=scene.club.pk) is None
    ledger_file().unlink()
    LedgerLine.objects.all().delete()
    with pytest.raises(CommandError, match="ledger"):
        call_command("restore", str(folders / "backups"), "--replace")
    call_command("restore", str(folders / "backups"), "--replace", "--without-ledger")
    [(entry, said)] = pains_kept()
    assert entry.pk == erased.pk and said["place"] is None  # the row of the old backup, unreadable without its key
    for giver in (scene.athlete, scene.guardian):
        events = PermissionEvent.objects.filter(athlete=scene.athlete, giver=giver)
        assert events.order_by("at").last().answer == "withdrawn"
