"""Says who comes to an easier version of a session instead of staying away."""

from dataclasses import replace
from datetime import date
from uuid import UUID

from django.db import transaction

from athletes.viewer import Viewer
from sessions.access import get_week
from sessions.models import DraftStep
from sessions.selectors.week_draft import demands_of, draft_places
from sessions.services.week_draft import Turn, take_turn, write_turn
from teamtrack.common.errors import NotFound


@transaction.atomic
def set_easier(
    *, viewer: Viewer, monday: date, demand_id: UUID, athlete_id: UUID, revision: int, is_easier: bool
) -> DraftStep:
    """The athlete, who would stay away from this demand in the draft, comes to an easier version, or stays away.

    Raises NotFound where the demand or the athlete is not there, Conflict where the draft has moved on.
    """
    week = get_week(viewer, monday)
    take_turn(viewer=viewer, week=week, revision=revision)
    before, key, who = draft_places(demands_of(week)), str(demand_id), str(athlete_id)
    if key not in before or who not in before[key].absent:
        raise NotFound()
    easier = before[key].easier | {who} if is_easier else before[key].easier - {who}
    after = {**before, key: replace(before[key], easier=easier)}
    return write_turn(Turn(viewer, week, DraftStep.What.EASIER, before, after), revision=revision)
