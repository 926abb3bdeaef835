"""Gives a training session from one coach to another; both are told, the draft of the week says the same."""

from dataclasses import replace
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_session_to_run
from sessions.core.week_changes import Place
from sessions.models import DraftStep, Notice, SessionCoach, TrainingSession
from sessions.selectors.cover import cover_of
from sessions.selectors.publication import Told
from sessions.services.keep_in_step import keep_in_step
from sessions.services.tell_changes import send_later, write_notices
from teamtrack.common.errors import NotFound, Refused


@transaction.atomic
def give_session(*, viewer: Viewer, session_id: UUID, from_id: UUID, to_id: UUID) -> TrainingSession:
    """The second coach leads it in the first one's place; given already, nothing changes.

    Raises NotFound where either is not the club's or the first is not on the list, Refused where the second leads
    something else then, or may not lead it.
    """
    found = get_session_to_run(viewer, session_id)
    training_session = TrainingSession.objects.select_for_update(of=("self",)).get(pk=found.pk)
    if training_session.is_called_off or training_session.ends_at <= viewer.now:
        raise Refused("OVER", str(_("This session is over or called off. Nothing was changed.")))
    listed = training_session.session_coaches.filter(taken_off_at=None)
    if listed.filter(coach=to_id).exists() and not listed.filter(coach=from_id).exists():
        return training_session
    first = listed.filter(coach=from_id).first()
    cover = cover_of(viewer=viewer, training_session=training_session)
    second = next((one for one in cover.others if one.coach.pk == to_id), None)
    if first is None or second is None:
        raise NotFound()
    if not second.can:
        raise Refused("CANNOT_LEAD", str(_("This coach leads something else then, or has no check in date.")))
    _hand_over(viewer, training_session, from_id, to_id)
    told = [Told(from_id, Notice.Kind.CALLED_OFF), Told(to_id, Notice.Kind.ADDED)]
    told = [one for one in told if one.to != viewer.person_id]
    write_notices(viewer=viewer, training_session=training_session, told=told)
    send_later(viewer=viewer, target_id=training_session.pk, changed=[training_session])
    log_acts(viewer=viewer, acts=[Act("give", "training_session", None, ("coaches",))])
    return training_session


def _hand_over(viewer: Viewer, training_session: TrainingSession, from_id: UUID, to_id: UUID) -> None:
    training_session.session_coaches.filter(coach=from_id).update(taken_off_at=viewer.now)
    SessionCoach.objects.update_or_create(
        training_session=training_session,
        coach_id=to_id,
        defaults={"club_id": training_session.club_id, "part": SessionCoach.Part.COACH, "taken_off_at": None},
    )
    keep_in_step(
        viewer=viewer, demand_id=training_session.demand_id, what=DraftStep.What.MOVED,
        change=lambda place: _with_other_coach(place, str(from_id), str(to_id)),
    )  # fmt: skip


def _with_other_coach(place: Place | None, old: str, new: str) -> Place | None:
    """A draft that had somebody else in mind keeps them."""
    if place is None or old not in place.coaches:
        return place
    return replace(place, coaches=tuple(sorted({*place.coaches, new} - {old})))
