"""Records what an athlete says about a guardian's view, copy or wish to have something taken away."""

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.models import PermissionEvent
from athletes.models.accounts import Role
from athletes.models.permissions import Purpose
from athletes.selectors.guardian_views import is_asked_about, latest_about_guardians
from athletes.selectors.permission_questions import wording_in_force
from athletes.services.access_log import Act, log_acts
from athletes.services.record_permission import evidence_of_sign_in
from athletes.services.rules import confirmed_first
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.row_security import rows_open


@transaction.atomic
def answer_view(*, viewer: Viewer, guardian_id: UUID, what: str, answer: str) -> PermissionEvent:
    """Say yes or no to one thing about one guardian, from the next request on.

    The very same answer again, to the same wording, is the one that is there. Raises NotFound for nobody's guardian and
    where the athlete's word decides nothing.
    """
    if viewer.role != Role.ATHLETE or not is_asked_about(viewer=viewer, guardian_id=guardian_id, what=what):
        raise NotFound()
    if answer == PermissionEvent.Answer.YES:
        confirmed_first(viewer.club)
    latest = latest_about_guardians(viewer=viewer).get((guardian_id, what))
    wording = wording_in_force(viewer=viewer, athlete=viewer.person, purpose=Purpose.VIEW)
    if latest is not None and latest.answer == answer and wording is not None and latest.wording_id == wording.pk:
        return latest
    return _record(viewer, guardian_id, what, PermissionEvent.Answer(answer))


@transaction.atomic
def take_back_view(*, viewer: Viewer, event_id: UUID) -> PermissionEvent:
    """Undo one's own latest answer about a guardian: what was said before holds again, or nothing is allowed."""
    latest = latest_about_guardians(viewer=viewer)
    undone = next((event for event in latest.values() if event.pk == event_id), None)
    if viewer.role != Role.ATHLETE or undone is None or undone.about_guardian_id is None:
        raise NotFound()
    key = (undone.about_guardian_id, undone.purpose)
    before = latest_about_guardians(viewer=viewer, before=undone).get(key)
    said = before.answer if before else PermissionEvent.Answer.WITHDRAWN
    return _record(viewer, undone.about_guardian_id, undone.purpose, PermissionEvent.Answer(said))


def _record(viewer: Viewer, guardian_id: UUID, what: str, answer: PermissionEvent.Answer) -> PermissionEvent:
    wording = wording_in_force(viewer=viewer, athlete=viewer.person, purpose=Purpose.VIEW)
    if wording is None:
        raise Refused("NOT_ASKED", _("The club has no wording for this question yet. Please tell an admin."))
    event = PermissionEvent(
        club_id=viewer.club_id,
        athlete=viewer.person,
        giver_id=viewer.person_id,
        capacity=PermissionEvent.Capacity.ATHLETE,
        purpose=what,
        answer=answer,
        wording=wording,
        at=viewer.now,
        method=PermissionEvent.Method.SCREEN,
        evidence=evidence_of_sign_in(viewer),
        about_guardian_id=guardian_id,
        entered_by_id=viewer.person_id,
    )
    with rows_open(club_id=viewer.club_id):
        event.save(force_insert=True)
    log_acts(viewer=viewer, acts=[Act(answer.value, "guardian_view", viewer.person_id, ("answer",), what.upper())])
    return event
