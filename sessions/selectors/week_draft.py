"""The draft of a week: its demands and where each lies now."""

from collections import defaultdict
from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.db.models import Case, CharField, F, Prefetch, QuerySet, Value, When

from athletes.models import Person
from sessions.core.week_changes import Place
from sessions.models import Demand, Placement, SessionAthlete, TrainingSession, WeekPlan
from sessions.selectors.pattern_demands import PatternDemand
from teamtrack.common.composed import Composed, ComposedValues, Given, hold_related

LISTS = {
    "coaches": Placement.coaches.through, "excused": Placement.excused.through, "away": Placement.away.through,
    "easier": Placement.easier.through,
}  # fmt: skip
_DEMANDS = Composed(lambda: _of_week(Given("week", WeekPlan._meta.pk)))
_LISTED = ComposedValues(lambda: _listed(Given("week", WeekPlan._meta.pk)))
_ASKED = ComposedValues(
    lambda: Demand.coaches.through.objects.filter(demand__week=Given("week", WeekPlan._meta.pk)).values_list(
        "demand_id", "person_id", "person__given_name", "person__family_name"
    )
)


def demands_of(week: WeekPlan) -> list[Demand]:
    """The week's demands, by group, with their coaches and places; three queries. Of coaches only their names."""
    demands = _DEMANDS.rows(week=week.pk)
    _read_coaches(week, demands)
    _read_lists(week, [demand.placement for demand in demands if placement_of(demand) is not None])
    return demands


def demands_to_plan(week: WeekPlan) -> list[Demand]:
    """The week's demands with all that a problem says of them; a fixed number of queries."""
    led = Prefetch("placement__coaches", Person.objects.only("pk"))
    return list(_with_places(week).prefetch_related(led, "venues", "qualified"))


def _with_places(week: WeekPlan) -> QuerySet[Demand]:
    return _of_week(week).prefetch_related(Prefetch("coaches", Person.objects.only("given_name", "family_name")))


def _of_week(week: WeekPlan | Given) -> QuerySet[Demand]:
    """`published_id` is the session that takes place for the demand."""
    takes_place = When(training_session__state=TrainingSession.State.PUBLISHED, then=F("training_session__pk"))
    rows = Demand.objects.filter(week=week).select_related("group", "placement")
    return rows.annotate(published_id=Case(takes_place))


def _listed(week: Given) -> QuerySet[Any, Any]:
    """All who lead or stay away in the week's draft: which list, placement and person."""
    first, *others = [
        pairs.objects.filter(placement__demand__week=week)
        .annotate(list=Value(name, CharField()))
        .values_list("list", "placement_id", "person_id")
        for name, pairs in LISTS.items()
    ]
    return first.union(*others, all=True)


def _read_coaches(week: WeekPlan, demands: Collection[Demand]) -> None:
    """The coaches whom each demand may have."""
    asked = defaultdict(list)
    for demand_id, *coach in _ASKED.rows(week=week.pk):
        asked[demand_id].append(Person.from_db(None, ("id", "given_name", "family_name"), coach))
    everybody = Person.objects.all()
    for demand in demands:
        hold_related(demand, "coaches", asked[demand.pk], everybody)


def _read_lists(week: WeekPlan, placements: Collection[Placement]) -> None:
    """Who leads and who stays away, as ids: a place needs nothing else of them."""
    lists: dict[UUID, dict[str, list[str]]] = {one.pk: {name: [] for name in LISTS} for one in placements}
    for name, placement_id, person_id in _LISTED.rows(week=week.pk):
        if placement_id in lists:
            lists[placement_id][name].append(str(person_id))
    for one in placements:
        one.lists = lists[one.pk]  # type: ignore[attr-defined]


def placement_of(demand: Demand | PatternDemand) -> Placement | None:
    """The demand's placement, if it has one; what has no row yet has none."""
    return getattr(demand, "placement", None)


def _place(placement: Placement) -> Place:
    """The placement as plain values."""
    lists: dict[str, list[str]] = placement.lists  # type: ignore[attr-defined]
    return Place(
        starts_at=placement.starts_at,
        ends_at=placement.ends_at,
        venue=str(placement.venue_id),
        coaches=tuple(sorted(lists["coaches"])),
        excused=frozenset(lists["excused"]),
        away=frozenset(lists["away"]),
        easier=frozenset(lists["easier"]),
        reasons=tuple(placement.reasons),
    )


def easier_as_published(week: WeekPlan) -> dict[str, frozenset[str]]:
    """By demand the athletes who come to an easier version of it, as published; one query."""
    found: dict[str, set[str]] = defaultdict(set)
    rows = SessionAthlete.objects.filter(training_session__demand__week=week, comes=SessionAthlete.Comes.EASIER)
    for demand_id, athlete_id in rows.values_list("training_session__demand", "athlete"):
        found[str(demand_id)].add(str(athlete_id))
    return {demand: frozenset(athletes) for demand, athletes in found.items()}


def draft_places(demands: list[Demand]) -> dict[str, Place]:
    """By demand the places of the draft, of demands that `demands_of` read."""
    return {str(demand.pk): _place(placement) for demand in demands if (placement := placement_of(demand)) is not None}
