"""Takes back the newest change of a week's draft that still stands, and so on backwards."""

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.viewer import Viewer
from sessions.access import weeks_visible_to
from sessions.core.week_changes import Place, place_of
from sessions.models import DraftStep
from sessions.selectors.week_draft import demands_of, draft_places
from sessions.selectors.week_steps import undoable_step
from sessions.services.week_draft import Turn, take_turn, write_turn
from teamtrack.common.errors import NotFound, Refused


@transaction.atomic
def undo_step(*, viewer: Viewer, step_id: UUID, revision: int) -> DraftStep:
    """Give the sessions of one step the places they had before it.

    Only the newest step that stands can be taken back; what was published stays published until the next publishing.
    Raises Conflict where the draft has moved on since `revision`.
    """
    rows = DraftStep.objects.filter(pk=step_id, week__in=weeks_visible_to(viewer)).select_related("week")
    step = rows.first()
    if step is None:
        raise NotFound()
    take_turn(viewer=viewer, week=step.week, revision=revision)
    newest = undoable_step(week=step.week)
    if newest is None or newest.pk != step.pk:
        raise Refused("NOT_THE_LAST", str(_("Only the last change can be undone. Nothing was changed.")))
    demands = demands_of(step.week)
    before, there = draft_places(demands), {str(demand.pk) for demand in demands}
    given_back = {key: place_of(row) for key, row in step.before.items() if row is not None and key in there}
    after: dict[str, Place] = {key: place for key, place in before.items() if key not in step.before} | given_back
    DraftStep.objects.filter(pk=step.pk).update(undone_at=viewer.now)
    return write_turn(Turn(viewer, step.week, DraftStep.What.UNDONE, before, after), revision=revision)
