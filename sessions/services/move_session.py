"""Moves one published session directly, told at once to everybody whom it concerns, and back where that was a slip."""

from dataclasses import replace
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.models import Person
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_session_to_run
from sessions.core.week_changes import Place
from sessions.models import DraftStep, Notice, TrainingSession
from sessions.selectors.publication import Told
from sessions.selectors.session_concerns import told_of_session
from sessions.services.keep_in_step import keep_in_step
from sessions.services.tell_changes import send_later, write_notices
from teamtrack.common.errors import Refused
from teamtrack.common.row_security import rows_open


@transaction.atomic
def move_session(*, viewer: Viewer, session_id: UUID, starts_at: datetime) -> TrainingSession:
    """Let a session that has not begun begin at another instant, as long as before; the draft of its week says the
    same. Raises Refused where it, or the new start, is past."""
    training_session = _locked(viewer, session_id)
    if training_session.is_called_off or min(training_session.starts_at, starts_at) <= viewer.now:
        raise Refused("OVER", str(_("This session has begun or is called off. Nothing was changed.")))
    _write(viewer, training_session, starts_at)
    told = told_of_session(viewer=viewer, training_session=training_session, kind=Notice.Kind.MOVED)
    _tell(viewer, training_session, told)
    log_acts(viewer=viewer, acts=[Act("moved", "training_session", None, ("starts_at", "ends_at"))])
    return training_session


@transaction.atomic
def move_session_back(*, viewer: Viewer, session_id: UUID, starts_at: datetime, moved_at: datetime) -> None:
    """Take back the move made at `moved_at`: whoever knows of it is told, the notices of the others go.

    Raises Refused where the session was changed since, or has begun.
    """
    training_session = _locked(viewer, session_id)
    if training_session.changed_at != moved_at or training_session.is_called_off:
        raise Refused("CHANGED_SINCE", str(_("This session was changed since. Nothing was changed.")))
    if min(training_session.starts_at, starts_at) <= viewer.now:
        raise Refused("OVER", str(_("This session has begun or is called off. Nothing was changed.")))
    told = _told_of_move(training_session)
    _write(viewer, training_session, starts_at)
    _tell(viewer, training_session, told)
    log_acts(viewer=viewer, acts=[Act("undone", "training_session", None, ("starts_at", "ends_at"))])


def _locked(viewer: Viewer, session_id: UUID) -> TrainingSession:
    found = get_session_to_run(viewer, session_id)
    return TrainingSession.objects.select_for_update(of=("self",)).get(pk=found.pk)


def _write(viewer: Viewer, training_session: TrainingSession, starts_at: datetime) -> None:
    ends_at = starts_at + (training_session.ends_at - training_session.starts_at)
    training_session.starts_at, training_session.ends_at = starts_at, ends_at
    training_session.changed_at = viewer.now
    training_session.save(update_fields=["starts_at", "ends_at", "changed_at"])
    training_session.session_athletes.update(seen_at=None)

    def moved(place: Place | None) -> Place | None:
        return replace(place, starts_at=starts_at, ends_at=ends_at) if place else None

    keep_in_step(viewer=viewer, demand_id=training_session.demand_id, what=DraftStep.What.MOVED, change=moved)


def _tell(viewer: Viewer, training_session: TrainingSession, told: list[Told]) -> None:
    write_notices(viewer=viewer, training_session=training_session, told=told)
    send_later(viewer=viewer, target_id=training_session.pk, changed=[training_session])


def _told_of_move(training_session: TrainingSession) -> list[Told]:
    """Those who know of the move, or may; the notices of the others are taken away."""
    people = list(Person.objects.filter(club=training_session.club_id).values_list("pk", flat=True))
    with rows_open(people=people):
        rows = Notice.objects.filter(
            training_session=training_session, kind=Notice.Kind.MOVED, made_at=training_session.changed_at
        )
        known = rows.exclude(seen_at=None, mailed_at=None, reached_at=None)
        told = [Told(row.to_id, Notice.Kind.MOVED, row.about_id) for row in known.order_by("id")]
        rows.filter(seen_at=None, mailed_at=None, reached_at=None).delete()
    return told
