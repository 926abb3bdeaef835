"""Which weeks a change of the season touches, and how: the rows are written, read as the planner reads them, and rolled
back, so that what is tried is what would be."""

from dataclasses import dataclass
from typing import Any

from django.db import transaction

from athletes.viewer import Viewer
from sessions.core.rehearsal_changes import WeekToHold
from sessions.core.season_document import Document
from sessions.models import SeasonPlan
from sessions.selectors.rehearsals import weeks_to_rehearse
from sessions.services.change_season import write_document
from sessions.services.move_meets import shift_meets


@dataclass(frozen=True)
class TouchedWeek:
    """A week as it is and as it would be; None where nothing is asked of it."""

    monday: str
    before: WeekToHold | None
    after: WeekToHold | None

    def as_json(self) -> dict[str, Any]:
        """The sessions of the pattern that the week gains and loses."""
        old, new = _sessions(self.before), _sessions(self.after)
        return {"monday": self.monday, "added": sorted(new - old), "dropped": sorted(old - new)}


def touched_weeks(*, viewer: Viewer, season: SeasonPlan, wanted: Document) -> list[TouchedWeek]:
    """The weeks to come that would not stay as they are, in order."""
    before = {week.monday: week for week in weeks_to_rehearse(viewer=viewer, season=season)}
    after = {week.monday: week for week in _weeks_with(viewer, season, wanted)}
    weeks = [TouchedWeek(monday, before.get(monday), after.get(monday)) for monday in sorted({*before, *after})]
    return [week for week in weeks if week.before != week.after]


@transaction.atomic
def _weeks_with(viewer: Viewer, season: SeasonPlan, wanted: Document) -> list[WeekToHold]:
    write_document(season, wanted)
    shift_meets(viewer, wanted["meets"])
    changed = SeasonPlan.objects.get(pk=season.pk)
    weeks = weeks_to_rehearse(viewer=viewer, season=changed)
    transaction.set_rollback(True)
    return weeks


def _sessions(week: WeekToHold | None) -> set[str]:
    if week is None:
        return set()
    return {week.pattern_of(row["id"]) for row in week.document["demands"]} | {*map(week.pattern_of, week.left_out)}
