"""What a move would break, by the planner's own rules, without saving anything.

Whoever tries one place after another is answered from rules read a few seconds ago; saving a move reads them anew.
"""

import time
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from uuid import UUID

from athletes.viewer import Viewer
from sessions.access import get_week
from sessions.core.planner.rules import RuleBook
from sessions.core.week_changes import Place
from sessions.models import Demand, WeekPlan
from sessions.selectors.week_draft import demands_of, draft_places
from sessions.services.draft_rules import DraftRules, rule_book
from sessions.services.move_demand import place_for
from teamtrack.common.errors import NotFound, Refused

KEPT_S, MOST_KEPT = 20.0, 8
_kept: dict[tuple[UUID, int, UUID], tuple[float, RuleBook]] = {}


@dataclass(frozen=True)
class WhatIf:
    """What the move would break, in sentences; `is_for_people`: excusing those who cannot come mends it."""

    demand: Demand
    revision: int
    place: Place
    broken: tuple[str, ...]
    is_for_people: bool


def what_if_moved(
    *, viewer: Viewer, monday: date, demand_id: UUID, starts_at: datetime,
    venue_id: UUID | None = None, coach_ids: Collection[UUID] = (),
) -> WhatIf:  # fmt: skip
    """Try one place of a demand; without venue or coaches those of the draft, else the first that it lists.

    Raises NotFound for a demand that is not the viewer's, Refused where it can no longer be placed.
    """
    week = get_week(viewer, monday)
    demands = demands_of(week)
    demand = next((one for one in demands if one.pk == demand_id), None)
    if demand is None:
        raise NotFound()
    before, key = draft_places(demands), str(demand_id)
    now = before.get(key)
    venue = venue_id or (UUID(now.venue) if now else demand.venues.values_list("pk", flat=True)[0])
    first = [coach.pk for coach in demand.coaches.all()][: demand.observers]
    coaches = coach_ids or ([UUID(coach) for coach in now.coaches] if now else first)
    rules = DraftRules(viewer=viewer, week=week, book=_rules_of_late(viewer, week))
    place = place_for(rules, demand, before, starts_at=starts_at, venue_id=venue, coach_ids=coaches)
    without = {other: there for other, there in before.items() if other != key}
    broken = _broken(rules, without, key, place)
    hindered = rules.hindered(key, without | {key: place}) if broken else frozenset()
    excused = replace(place, excused=place.excused | hindered)
    mends = bool(hindered) and not rules.breaks_new(before=without, after=without | {key: excused})
    return WhatIf(demand, week.revision, place, broken, mends)


def _broken(rules: DraftRules, without: Mapping[str, Place], key: str, place: Place) -> tuple[str, ...]:
    try:
        rules.refuse_new(before=without, after={**without, key: place})
    except Refused as refusal:
        return tuple(refusal.fields["rules"])
    return ()


def _rules_of_late(viewer: Viewer, week: WeekPlan) -> RuleBook:
    """The rules for this state of the draft and this reader, no older than some seconds."""
    key, now = (week.pk, week.revision, viewer.person_id), time.monotonic()
    known = _kept.get(key)
    if known is None or now - known[0] > KEPT_S:
        known = (now, rule_book(viewer=viewer, week=week))
        _kept[key] = known
        while len(_kept) > MOST_KEPT:
            _kept.pop(min(_kept, key=lambda one: _kept[one][0]), None)
    return known[1]
