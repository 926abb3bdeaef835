"""Keeps a week's draft in step with what was changed about one of its published sessions directly."""

from collections.abc import Callable
from uuid import UUID

from athletes.viewer import Viewer
from sessions.core.week_changes import Place
from sessions.models import Demand, DraftStep, WeekPlan
from sessions.selectors.week_draft import demands_of, draft_places
from sessions.services.week_draft import Turn, take_turn, write_turn


def keep_in_step(
    *, viewer: Viewer, demand_id: UUID | None, what: DraftStep.What, change: Callable[[Place | None], Place | None]
) -> None:
    """Change the demand's place in the draft as the session was changed, as a step that everybody sees and can undo.

    A draft that was as published counts as published still; a session without a demand has no draft.
    """
    demand = Demand.objects.filter(pk=demand_id).first() if demand_id else None
    if demand is None:
        return
    week = WeekPlan.objects.select_for_update().get(pk=demand.week_id)
    key, revision, was_in_step = str(demand.pk), week.revision, week.published_revision == week.revision
    before = draft_places([one for one in demands_of(week) if one.pk == demand.pk])
    place = change(before.get(key))
    after = {} if place is None else {key: place}
    if before == after:
        return
    take_turn(viewer=viewer, week=week, revision=revision)
    step = write_turn(Turn(viewer, week, what, before, after), revision=revision)
    if was_in_step:
        WeekPlan.objects.filter(pk=week.pk).update(published_revision=step.revision)
