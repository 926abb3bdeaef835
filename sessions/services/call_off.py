"""Calls a training session off, told at once to everybody whom it concerns, and on again where that was a slip."""

from collections.abc import Iterable
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.models import Person
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_session_to_run
from sessions.core.week_changes import Place, place_of
from sessions.models import DraftStep, Notice, TrainingSession
from sessions.selectors.publication import Told
from sessions.selectors.session_concerns import told_of_session
from sessions.services.keep_in_step import keep_in_step
from sessions.services.tell_changes import send_later, write_notices
from teamtrack.common.errors import Refused
from teamtrack.common.row_security import rows_open

MOST_WORDS = 300
State = TrainingSession.State


@transaction.atomic
def call_off_session(*, viewer: Viewer, session_id: UUID, words: str = "") -> int:
    """Call one session off; how many people are told. Twice tells nobody twice.

    Its place in the draft goes too, so that the next publishing does not bring it back.
    """
    training_session = _locked(viewer, session_id)
    if training_session.ends_at <= viewer.now:
        raise Refused("OVER", str(_("This session is over. Nothing was changed.")))
    if training_session.is_called_off:
        raise Refused("CALLED_OFF", str(_("This session is called off already. Nobody was told again.")))
    told = told_of_session(viewer=viewer, training_session=training_session, kind=Notice.Kind.CALLED_OFF)
    _write(viewer, training_session, State.CALLED_OFF, words[:MOST_WORDS])
    keep_in_step(
        viewer=viewer, demand_id=training_session.demand_id, what=DraftStep.What.CALLED_OFF, change=lambda _place: None
    )
    people = write_notices(viewer=viewer, training_session=training_session, told=told)
    send_later(viewer=viewer, target_id=training_session.pk, changed=[training_session])
    log_acts(viewer=viewer, acts=[Act("call_off", "training_session")])
    return people


@transaction.atomic
def call_on_session(*, viewer: Viewer, session_id: UUID) -> int:
    """Let a session that was called off take place after all; how many people are told.

    Whoever has not been reached yet is told nothing at all: their notice of the call-off goes.
    """
    training_session = _locked(viewer, session_id)
    if not training_session.is_called_off or training_session.ends_at <= viewer.now:
        raise Refused("NOTHING_NEW", str(_("This session is not called off, or it is over. Nothing was changed.")))
    told = _told_before(training_session)
    _write(viewer, training_session, State.PUBLISHED, "")
    before = _place_before(training_session)
    keep_in_step(
        viewer=viewer, demand_id=training_session.demand_id, what=DraftStep.What.CALLED_OFF,
        change=lambda place: place or before,
    )  # fmt: skip
    people = write_notices(viewer=viewer, training_session=training_session, told=told)
    send_later(viewer=viewer, target_id=training_session.pk, changed=[training_session])
    log_acts(viewer=viewer, acts=[Act("call_on", "training_session")])
    return people


def _locked(viewer: Viewer, session_id: UUID) -> TrainingSession:
    found = get_session_to_run(viewer, session_id)
    TrainingSession.objects.select_for_update(of=("self",)).get(pk=found.pk)
    found.refresh_from_db(fields=["state", "starts_at", "ends_at", "changed_at"])
    return found


def _write(viewer: Viewer, training_session: TrainingSession, state: str, words: str) -> None:
    training_session.state, training_session.change_words = state, words
    training_session.changed_at = viewer.now
    training_session.save(update_fields=["state", "change_words", "changed_at"])


def _told_before(training_session: TrainingSession) -> list[Told]:
    """Those who know of the call-off, or may: told that it is on again. The notices of the others are taken away."""
    roster = training_session.session_athletes.values_list("athlete_id", flat=True)
    coaches = training_session.session_coaches.values_list("coach_id", flat=True)
    with rows_open(people=_ids_of_club(training_session)):
        rows = Notice.objects.filter(
            training_session=training_session, kind=Notice.Kind.CALLED_OFF, made_at=training_session.changed_at
        )
        known = rows.exclude(seen_at=None, mailed_at=None, reached_at=None)
        told = [
            Told(row.to_id, Notice.Kind.ON_AGAIN, row.about_id, in_app_only=row.in_app_only)
            for row in known.order_by("id")
        ]
        rows.filter(seen_at=None, mailed_at=None, reached_at=None).delete()
    still = {*roster, *coaches}
    return [one for one in told if (one.about or one.to) in still]


def _ids_of_club(training_session: TrainingSession) -> Iterable[UUID]:
    return list(Person.objects.filter(club=training_session.club_id).values_list("pk", flat=True))


def _place_before(training_session: TrainingSession) -> Place | None:
    """Where the draft had it before the newest call-off; None where the draft never did."""
    steps = DraftStep.objects.filter(week__demands=training_session.demand_id, what=DraftStep.What.CALLED_OFF)
    key = str(training_session.demand_id)
    row = next((step.before[key] for step in steps if step.before.get(key)), None)
    return place_of(row) if row else None
