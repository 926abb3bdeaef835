"""The nightly run: counts first, removes in small transactions, waits for an admin where much would go."""

from datetime import date, timedelta
from uuid import UUID

from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from athletes.core.keeping import must_wait
from athletes.models import Club, KeepingRun, KeepingStep, LedgerLine
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.health_keys import destroy_listed_keys
from athletes.services.health_stops import mark_health_stops
from athletes.services.keepers import Keeper, Night, all_keepers, keeper_named, night_of, people_of, prepare
from athletes.services.ledger import note_removed, write_missing
from athletes.services.sign_ins import sweep as sweep_sign_ins
from athletes.services.tries import sweep as sweep_tries
from athletes.viewer import Viewer, server_viewer
from teamtrack.common.clock import now_in, utc_now
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.jobs import add_job
from teamtrack.common.models import Job
from teamtrack.common.row_security import rows_open

KEEP = "athletes.keep"
BEGINS_AT_HOUR = 2
BATCH = 200
"""Rows that go in one transaction: a phone that writes at the same time waits for no longer than that takes."""

ENDED_JOBS_KEPT = timedelta(days=35)
State = KeepingStep.State


def begin_nights() -> int:
    """Begin the run of every club whose night it is and which has none for its day; answers how many were begun."""
    begun = 0
    for club in Club.objects.order_by("id"):
        now = now_in(club.timezone)
        if now.hour >= BEGINS_AT_HOUR and not KeepingRun.objects.filter(club=club, day=now.date()).exists():
            begun += begin_night(club=club, day=now.date()) is not None
    return begun


@transaction.atomic
def begin_night(*, club: Club, day: date) -> KeepingRun | None:
    """A run for `day` with its job; None where somebody else has begun it."""
    run = KeepingRun(club=club, day=day, started_at=utc_now())
    KeepingRun.objects.bulk_create([run], ignore_conflicts=True)
    if not KeepingRun.objects.filter(pk=run.pk).exists():
        return None
    add_job(club_id=club.pk, task=KEEP, target_id=run.pk)
    return run


def keep(*, run_id: UUID) -> KeepingRun | None:
    """Count, unless it was counted; remove what need not wait. Safe to run again, from wherever it was left."""
    run = KeepingRun.objects.select_related("club").filter(pk=run_id).first()
    if run is None:
        return None
    if not run.steps.exists():
        _count(run)
    for step in run.steps.filter(state__in=(State.COUNTED, State.CONFIRMED)).order_by("pk"):
        keeper = keeper_named(step.keeper)
        while keeper is not None and _remove_some(run, keeper, step.pk):
            pass
        _end_step(run, step.pk)
    _sweep_up()
    KeepingRun.objects.filter(pk=run.pk).update(state=KeepingRun.State.DONE, ended_at=utc_now())
    run.refresh_from_db()
    return run


@transaction.atomic
def confirm_step(*, viewer: Viewer, step_id: UUID) -> KeepingStep:
    """An admin lets go what waits: the rows that were over on the day of the run, no others."""
    rows = KeepingStep.objects.select_for_update().filter(pk=step_id, club=viewer.club_id)
    step = rows.first() if viewer.role == Role.ADMIN else None
    if step is None:
        raise NotFound()
    if step.state != State.WAITS:
        raise Refused("ALREADY_DONE", _("This does not wait any more. Nothing was changed."))
    rows.update(state=State.CONFIRMED, confirmed_by=viewer.person_id, confirmed_at=utc_now())
    KeepingRun.objects.filter(pk=step.run_id).update(state=KeepingRun.State.RUNNING, ended_at=None)
    log_acts(viewer=viewer, acts=[Act("confirmed", "keeping", code=step.keeper.upper())])
    add_job(club_id=viewer.club_id, task=KEEP, target_id=step.run_id)
    return step


@transaction.atomic
def _count(run: KeepingRun) -> None:
    """What is due in each table, before anything goes; what waited since an earlier night is counted anew."""
    with rows_open(club_id=run.club_id, people=people_of(run.club_id)):
        mark_health_stops(night_of(run.club, run.day))
        night = night_of(run.club, run.day)
        prepare(night)
        steps = [_counted(run, night, keeper) for keeper in all_keepers()]
    waited = KeepingStep.objects.filter(club=run.club_id, state=State.WAITS)
    waited.update(state=State.OVERTAKEN)
    KeepingStep.objects.bulk_create(steps)


def _counted(run: KeepingRun, night: Night, keeper: Keeper) -> KeepingStep:
    total, due = keeper.rows(run.club_id).count(), keeper.due(night).count()
    state = State.WAITS if must_wait(due=due, total=total) else State.COUNTED
    return KeepingStep(
        club_id=run.club_id, run=run, keeper=keeper.name, kind=keeper.kind, total=total, due=due, state=state
    )


@transaction.atomic
def _remove_some(run: KeepingRun, keeper: Keeper, step_id: UUID) -> bool:
    """One small transaction: rows, their lines in the ledger and the step's number stand or fall together.

    Never more rows than were counted; a hold that was set meanwhile counts.
    """
    club_id, step = run.club_id, KeepingStep.objects.select_for_update().get(pk=step_id)
    most = min(BATCH, step.due - step.removed)
    with rows_open(club_id=club_id, people=people_of(club_id)):
        whose = keeper.whose or "pk"
        found = list(keeper.due(night_of(run.club, run.day)).order_by("pk").values_list("pk", whose)[:most])
        if not found:
            return False
        by_person: dict[UUID | None, list[object]] = {}
        for pk, person in found:
            by_person.setdefault(person if keeper.whose else None, []).append(pk)
        keeper.take_away(club_id, [pk for pk, _person in found])
        note_removed(club_id=club_id, what=keeper.name, why=LedgerLine.Why.PERIOD, by_person=by_person)
    KeepingStep.objects.filter(pk=step_id).update(removed=F("removed") + len(found))
    return len(found) == most


@transaction.atomic
def _end_step(run: KeepingRun, step_id: UUID) -> None:
    step = KeepingStep.objects.get(pk=step_id)
    KeepingStep.objects.filter(pk=step_id).update(state=State.DONE)
    if step.removed:
        act = Act("removed", step.kind, fields=(step.keeper, str(step.removed)), code="PERIOD_OVER")
        log_acts(viewer=server_viewer(run.club), acts=[act])


def _sweep_up() -> None:
    """What belongs to no club or lies outside the database: ended browser sessions, old jobs, wrong tries, keys,
    the file."""
    Session.objects.filter(expire_date__lt=utc_now()).delete()
    Job.objects.filter(ended_at__lt=utc_now() - ENDED_JOBS_KEPT).delete()
    sweep_tries()
    sweep_sign_ins()
    destroy_listed_keys()
    write_missing()
