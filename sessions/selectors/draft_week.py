"""A week's draft with a proposal beside it, read once: for the page and for the API."""

from collections.abc import Iterable, Mapping
from datetime import date
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from athletes.viewer import Viewer
from sessions.access import week_on
from sessions.core.iso_week import IsoWeek
from sessions.core.week_changes import Change, Place, asked_of_plan, changes, keeping_easier, mixed, places_of_plan
from sessions.models import Demand, DraftStep, Proposal, WeekPlan
from sessions.selectors.proposals import latest_proposal
from sessions.selectors.week_draft import demands_of, draft_places, easier_as_published
from sessions.selectors.week_items import WeekItem, draft_items, published_items
from sessions.selectors.week_names import week_names
from sessions.selectors.week_steps import LATEST, is_undoable, latest_steps, undoable_step
from sessions.week_words import WeekNames


class DraftWeek:
    """One week for one head coach; each part is read when it is asked for, and once."""

    def __init__(self, viewer: Viewer, monday: date, proposal: Proposal | None = None) -> None:
        self.viewer, self._given = viewer, proposal
        self.week = IsoWeek(monday, ZoneInfo(viewer.club.timezone))

    @cached_property
    def plan(self) -> WeekPlan | None:
        return week_on(self.viewer, self.week.monday)

    @property
    def revision(self) -> int:
        return self.plan.revision if self.plan else 0

    @property
    def is_published(self) -> bool:
        """Whether the draft is what was published."""
        return self.plan is not None and self.plan.published_revision == self.plan.revision

    @cached_property
    def demands(self) -> list[Demand]:
        return demands_of(self.plan) if self.plan else []

    @cached_property
    def places(self) -> dict[str, Place]:
        return draft_places(self.demands)

    @cached_property
    def without_place(self) -> list[Demand]:
        return [demand for demand in self.demands if str(demand.pk) not in self.places]

    @cached_property
    def latest(self) -> Proposal | None:
        """The proposal asked for last, or the one that this was made for."""
        return self._given or (latest_proposal(week=self.plan) if self.plan else None)

    @cached_property
    def solution(self) -> dict[str, Any] | None:
        """The latest proposal's plan, where it is ready, or was taken over and nothing changed since."""
        found = self.latest
        if found is None or found.state not in (Proposal.State.READY, Proposal.State.ACCEPTED):
            return None
        is_past = found.state == Proposal.State.ACCEPTED and found.based_on_revision != self.revision
        return None if is_past else found.plan

    @cached_property
    def proposed(self) -> dict[str, Place]:
        """The draft as it would be with the whole proposal; empty without one."""
        if self.solution is None:
            return {}
        there = {str(demand.pk) for demand in self.demands}
        found = mixed(self.places, places_of_plan(self.solution), asked_of_plan(self.solution) & there)
        return keeping_easier(self.places, found, easier_as_published(self.plan) if self.plan else {})

    @cached_property
    def proposed_changes(self) -> list[Change]:
        """What the proposal would change, in order of time."""
        return changes(self.places, self.proposed, self.week.zone) if self.solution is not None else []

    @cached_property
    def names(self) -> WeekNames:
        """Names of everybody who stays away from something in the draft or the proposal."""
        listed = (*self.places.values(), *self.proposed.values())
        people = {one for place in listed for one in place.absent}
        return week_names(viewer=self.viewer, demands=self.demands, person_ids=people)

    @cached_property
    def published(self) -> list[WeekItem]:
        return published_items(viewer=self.viewer, week=self.week, but_of=self.plan)

    def items_with(self, places: Mapping[str, Place]) -> list[WeekItem]:
        """The sessions of the week and of the days before, with the demands at the given places."""
        return draft_items(demands=self.demands, places=places, published=self.published, venues=self.names.venues)

    @cached_property
    def latest_steps(self) -> list[DraftStep]:
        return latest_steps(week=self.plan) if self.plan else []

    @cached_property
    def undoable(self) -> DraftStep | None:
        """The step that can be undone: nearly always one of the last few."""
        found = next((step for step in self.latest_steps if is_undoable(step)), None)
        if found is None and self.plan and len(self.latest_steps) == LATEST:
            return undoable_step(week=self.plan)
        return found if found is not None and found.what != DraftStep.What.MADE else None


def named(ids: Iterable[str], names: WeekNames) -> list[str]:
    """Those of the ids whom the viewer may know."""
    return sorted(one for one in ids if one in names.athletes)
