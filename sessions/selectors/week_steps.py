"""What was done to a week's draft, by whom, when: for the second of two people, and for going back."""

from collections.abc import Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from athletes.viewer import Viewer
from sessions.core.week_changes import Change, Place, changes, place_of
from sessions.models import DraftStep, WeekPlan
from sessions.selectors.week_draft import demands_of
from sessions.selectors.week_names import week_names
from sessions.week_words import WeekNames, change_sentence
from teamtrack.common.composed import Composed, Given

LATEST = 8
_LATEST = Composed(
    lambda: (
        DraftStep.objects.filter(week=Given("week", WeekPlan._meta.pk))
        .select_related("by")
        .defer("before", "after")[:LATEST]
    )
)
_NO_CHANGE_OF_PLACES = (DraftStep.What.UNDONE, DraftStep.What.PINNED)


def steps_since(*, week: WeekPlan, revision: int) -> list[DraftStep]:
    """The steps after `revision`, newest first."""
    return list(DraftStep.objects.filter(week=week, revision__gt=revision).select_related("by"))


def latest_steps(*, week: WeekPlan) -> list[DraftStep]:
    """The last few steps, newest first."""
    return _LATEST.rows(week=week.pk)


def is_undoable(step: DraftStep) -> bool:
    """Whether it changed places and still stands; the week as it was made stands for good."""
    return step.undone_at is None and step.what not in _NO_CHANGE_OF_PLACES


def undoable_step(*, week: WeekPlan) -> DraftStep | None:
    """The newest change of places that still stands; what an undo did, and a pin, is no such change."""
    found = DraftStep.objects.filter(week=week, undone_at=None).exclude(what__in=_NO_CHANGE_OF_PLACES).first()
    return found if found is not None and found.what != DraftStep.What.MADE else None


def step_sentences(*, viewer: Viewer, steps: Sequence[DraftStep]) -> list[str]:
    """One line for each session that the steps changed, newest step first."""
    if not steps:
        return []
    demands = demands_of(steps[0].week)
    found = [(step, change) for step in steps for change in _changes(step, viewer)]
    people = {one for _, change in found for place in (change.before, change.after) if place for one in place.absent}
    coaches = {one for _, change in found for place in (change.before, change.after) if place for one in place.coaches}
    names = week_names(viewer=viewer, demands=demands, person_ids=people | coaches)
    return [f"{step.by.full_name}: {sentence(change, names)}" for step, change in found]


def sentence(change: Change, names: WeekNames) -> str:
    """The session's name and what changed about it."""
    return f"{names.session(change.demand)}: {change_sentence(change, names)}"


def _changes(step: DraftStep, viewer: Viewer) -> list[Change]:
    return changes(_places(step.before), _places(step.after), ZoneInfo(viewer.club.timezone))


def _places(rows: Mapping[str, Any]) -> dict[str, Place]:
    return {demand: place_of(row) for demand, row in rows.items() if row is not None}
