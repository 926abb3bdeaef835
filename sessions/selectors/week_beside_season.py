"""A week that was made from the season, beside what the season asks of it now that it was changed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from athletes.viewer import Viewer
from sessions.access import weeks_visible_to
from sessions.models import Demand, DraftStep, SeasonPlan, SeasonStep, WeekPlan
from sessions.selectors.pattern_demands import PatternDemand, pattern_demands
from sessions.selectors.planning_problem import iso_week_of
from sessions.selectors.season_week import season_week
from sessions.selectors.week_draft import demands_to_plan

SAID = ("kind", "also", "duration_min", "lanes", "observers", "priority", "preferred")
LINKS = ("venues", "coaches", "qualified")


@dataclass(frozen=True)
class Pair:
    """A session that the week holds, and what the season asks for in its place."""

    held: Demand
    asked: PatternDemand

    @property
    def differs(self) -> frozenset[str]:
        """The fields in which they differ."""
        plain = {name for name in SAID if getattr(self.held, name) != getattr(self.asked, name)}
        return frozenset(plain | {name for name in LINKS if _ids(self.held, name) != _ids(self.asked, name)})


@dataclass(frozen=True)
class BesideSeason:
    """What the season asks for and the week lacks, what the week still holds, and what would become another; `kept`
    are the same, whichever row of the pattern they follow from."""

    added: tuple[PatternDemand, ...]
    dropped: tuple[Demand, ...]
    changed: tuple[Pair, ...]
    kept: tuple[Pair, ...]

    @property
    def is_alike(self) -> bool:
        return not (self.added or self.dropped or self.changed)


def beside_season(*, viewer: Viewer, week: WeekPlan) -> BesideSeason | None:
    """What a change of the season left behind in a week to come; None where nothing changed since the week was made,
    the week has begun, or no phase asks anything of it."""
    if week.monday <= viewer.today or not _is_season_newer(week):
        return None
    found = season_week(viewer=viewer, monday=week.monday)
    if found is None or found.phase is None:
        return None
    asked = pattern_demands(viewer=viewer, found=found, week=iso_week_of(week, viewer))
    compared = _compared(demands_to_plan(week), asked)
    return None if compared.is_alike else compared


def weeks_left_behind(*, viewer: Viewer, season: SeasonPlan) -> list[tuple[WeekPlan, BesideSeason]]:
    """The weeks of the season, made and still to come, that hold something else than it asks for now."""
    last = season.first_monday + timedelta(weeks=season.weeks)
    rows = weeks_visible_to(viewer).filter(
        monday__gt=viewer.today, monday__gte=season.first_monday, monday__lt=last, demands__isnull=False
    )
    weeks = rows.distinct().order_by("monday")
    found = ((week, beside_season(viewer=viewer, week=week)) for week in weeks)
    return [(week, one) for week, one in found if one is not None]


def _is_season_newer(week: WeekPlan) -> bool:
    """Whether a season was changed after the week was last made from it."""
    made = DraftStep.objects.filter(week=week, what=DraftStep.What.MADE).order_by("-at").values_list("at", flat=True)
    since = made.first()
    return since is not None and SeasonStep.objects.filter(club=week.club_id, at__gt=since).exists()


def _compared(held: Sequence[Demand], asked: Sequence[PatternDemand]) -> BesideSeason:
    """Each session that is asked for beside the one that follows from its row, else one like it that is left over."""
    by_item = {demand.pattern_item_id: demand for demand in held if demand.pattern_item_id is not None}
    pairs = [Pair(by_item[one.pk], one) for one in asked if one.pk in by_item]
    left = [one for one in held if one.pk not in {pair.held.pk for pair in pairs}]
    added = []
    for one in (one for one in asked if one.pk not in by_item):
        like = _like(one, left)
        if like is None:
            added.append(one)
        else:
            left.remove(like)
            pairs.append(Pair(like, one))
    changed = tuple(pair for pair in pairs if pair.differs)
    return BesideSeason(tuple(added), tuple(left), changed, tuple(pair for pair in pairs if not pair.differs))


def _like(asked: PatternDemand, left: Iterable[Demand]) -> Demand | None:
    """The session of the same group and kinds that is nearest in length."""
    same = [
        one
        for one in left
        if (one.group_id, one.kind, list(one.also)) == (asked.group_id, asked.kind, list(asked.also))
    ]
    return min(same, key=lambda one: (abs(one.duration_min - asked.duration_min), one.order, one.pk), default=None)


def _ids(row: Any, name: str) -> set[object]:
    return {one.pk for one in getattr(row, name).all()}
