"""Rehearsals of a season: the weeks that one is about, and how the latest stands."""

from dataclasses import dataclass
from datetime import timedelta
from zoneinfo import ZoneInfo

from athletes.viewer import Viewer
from sessions.access import get_season
from sessions.core.iso_week import IsoWeek
from sessions.core.rehearsal_changes import WeekToHold
from sessions.models import Rehearsal, SeasonPlan, WeekPlan
from sessions.selectors.pattern_demands import PatternDemand, pattern_demands
from sessions.selectors.planning_problem import Asked, build_asked
from sessions.selectors.proposals import OPEN, Trouble, job_of, trouble_of
from sessions.selectors.season_week import season_week
from sessions.selectors.week_draft import demands_to_plan


@dataclass(frozen=True)
class RehearsalStanding:
    """The latest rehearsal of a season, and why work on it does not go on just now."""

    rehearsal: Rehearsal
    trouble: Trouble | None = None

    @property
    def is_open(self) -> bool:
        return self.rehearsal.state in OPEN and self.trouble is not Trouble.GIVEN_UP


def latest_rehearsal(*, viewer: Viewer, season: SeasonPlan) -> RehearsalStanding | None:
    """The one asked for last, None before the first; raises NotFound for a season that the viewer does not plan."""
    rows = Rehearsal.objects.filter(season=get_season(viewer, season.pk), wanted__isnull=True)
    found = rows.select_related("asked_by").first()
    if found is None:
        return None
    return standing_of_rehearsal(found)


def standing_of_rehearsal(found: Rehearsal) -> RehearsalStanding:
    """How the work on one stands."""
    return RehearsalStanding(found, trouble_of(job_of(found.pk)) if found.state in OPEN else None)


def weeks_to_rehearse(*, viewer: Viewer, season: SeasonPlan) -> list[WeekToHold]:
    """The weeks of the season that have not begun and of which something is asked; nothing is written.

    A week that was made already has its own demands, any other those of its pattern.
    """
    zone = ZoneInfo(viewer.club.timezone)
    weeks = (IsoWeek(season.first_monday + timedelta(days=7 * number), zone) for number in range(season.weeks))
    made = {plan.monday: plan for plan in WeekPlan.objects.filter(club=viewer.club_id)}
    found = []
    for week in weeks:
        if week.starts_at > viewer.now:
            asked = _asked(viewer, season, week, made.get(week.monday))
            if asked:
                found.append(_week(viewer, week, asked))
    return found


def _asked(viewer: Viewer, season: SeasonPlan, week: IsoWeek, made: WeekPlan | None) -> list[Asked]:
    """The demands of the week; none where another season plans it."""
    found = season_week(viewer=viewer, monday=week.monday)
    if found is None or found.season.pk != season.pk:
        return []
    own = demands_to_plan(made) if made is not None else []
    return [*own] or [*pattern_demands(viewer=viewer, found=found, week=week)]


def _week(viewer: Viewer, week: IsoWeek, asked: list[Asked]) -> WeekToHold:
    built = build_asked(viewer=viewer, week=week, asked=asked)
    return WeekToHold(
        document=built.document,
        patterns={str(demand.pk): str(_pattern_of(demand)) for demand in asked if _pattern_of(demand)},
        left_out={str(demand): reason.value for demand, reason in built.left_out.items()},
    )


def _pattern_of(demand: Asked) -> object:
    return demand.pk if isinstance(demand, PatternDemand) else demand.pattern_item_id
