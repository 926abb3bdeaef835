"""Moves one session of a week's draft by hand, checked by the planner's own rules; pins it; takes a change back."""

from collections.abc import Collection, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.viewer import Viewer
from sessions.access import get_week
from sessions.core.week_changes import Place, keeping_easier
from sessions.models import Demand, DraftStep, WeekPlan
from sessions.selectors.week_draft import demands_of, draft_places, easier_as_published
from sessions.services.draft_rules import DraftRules
from sessions.services.week_draft import Turn, take_turn, write_turn
from teamtrack.common import words
from teamtrack.common.errors import NotFound, Refused


@transaction.atomic
def move_demand(
    *,
    viewer: Viewer,
    monday: date,
    demand_id: UUID,
    revision: int,
    starts_at: datetime,
    venue_id: UUID,
    coach_ids: Collection[UUID],
    excuse: bool = False,
) -> DraftStep:
    """Put one demand at an aware start, a venue and coaches of the club.

    Who was excused and still cannot come stays excused; others who could not come are excused only with `excuse`.
    Raises Conflict where the draft has moved on, Refused with the broken rules and the people they concern.
    """
    week = get_week(viewer, monday)
    take_turn(viewer=viewer, week=week, revision=revision)
    demands, demand = _demand(week, demand_id)
    if demand.is_pinned:
        raise Refused("PINNED", str(_("This session is pinned: let it go first. Nothing was changed.")))
    key, before = str(demand_id), draft_places(demands)
    rules = DraftRules(viewer=viewer, week=week)
    place = place_for(rules, demand, before, starts_at=starts_at, venue_id=venue_id, coach_ids=coach_ids, excuse=excuse)
    after = {**before, key: place}
    if before.get(key) == after[key]:
        raise Refused("NOTHING_NEW", str(_("The week is like that already. Nothing was changed.")))
    rules.refuse_new(before={k: p for k, p in before.items() if k != key}, after=after)
    return write_turn(Turn(viewer, week, DraftStep.What.MOVED, before, after), revision=revision)


@transaction.atomic
def take_out_demand(*, viewer: Viewer, monday: date, demand_id: UUID, revision: int) -> DraftStep:
    """Leave one demand without a place."""
    week = get_week(viewer, monday)
    take_turn(viewer=viewer, week=week, revision=revision)
    demands, _demand_itself = _demand(week, demand_id)
    before = draft_places(demands)
    if str(demand_id) not in before:
        raise Refused("NOTHING_NEW", str(_("The week is like that already. Nothing was changed.")))
    after = {key: place for key, place in before.items() if key != str(demand_id)}
    return write_turn(Turn(viewer, week, DraftStep.What.MOVED, before, after), revision=revision)


@transaction.atomic
def pin_demand(*, viewer: Viewer, monday: date, demand_id: UUID, revision: int, is_pinned: bool) -> DraftStep:
    """Hold a placed session where it is, or let the planner move it again."""
    week = get_week(viewer, monday)
    take_turn(viewer=viewer, week=week, revision=revision)
    demands, demand = _demand(week, demand_id)
    if is_pinned and str(demand_id) not in draft_places(demands):
        raise Refused("NOT_PLACED", str(_("A session without a place cannot be pinned. Nothing was changed.")))
    Demand.objects.filter(pk=demand.pk).update(is_pinned=is_pinned)
    return write_turn(Turn(viewer, week, DraftStep.What.PINNED, {}, {}), revision=revision)


def _demand(week: WeekPlan, demand_id: UUID) -> tuple[list[Demand], Demand]:
    demands = demands_of(week)
    found = next((demand for demand in demands if demand.pk == demand_id), None)
    if found is None:
        raise NotFound()
    return demands, found


def _known(row_id: UUID, rows: Collection[object], field: str) -> UUID:
    if row_id not in {row.pk for row in rows}:  # type: ignore[attr-defined]
        wrong = str(_("Choose from the list."))
        raise Refused("CHECK_FIELDS", str(words.CHECK_FIELDS), fields={field: [wrong]})
    return row_id


def place_for(
    rules: DraftRules, demand: Demand, before: Mapping[str, Place], *, starts_at: datetime, venue_id: UUID,
    coach_ids: Collection[UUID], excuse: bool = False,
) -> Place:  # fmt: skip
    """The place of one demand as asked for, with who is away and who stays excused.

    Raises Refused for a venue or coach that is not on its lists, and where it can no longer be placed.
    """
    place = Place(
        starts_at=starts_at,
        ends_at=starts_at.astimezone(UTC) + timedelta(minutes=demand.duration_min),
        venue=str(_known(venue_id, demand.venues.all(), "venue")),
        coaches=tuple(str(_known(coach, demand.coaches.all(), "coaches")) for coach in dict.fromkeys(coach_ids)),
    )
    key = str(demand.pk)
    if not rules.knows(key):
        raise Refused("TOO_LATE", str(_("This session has begun or can no longer be placed. Nothing was changed.")))
    place = replace(place, away=rules.away(key))
    hindered = rules.hindered(key, {**before, key: place})
    kept = hindered if excuse else hindered & (before[key].excused if key in before else frozenset())
    place = replace(place, excused=kept)
    return keeping_easier(before, {key: place}, easier_as_published(rules.week))[key]
