"""What the season asks of a week now, and what the week still holds, in words."""

from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.models import Demand, SeasonPlan, WeekPlan
from sessions.selectors.pattern_demands import PatternDemand
from sessions.selectors.week_beside_season import BesideSeason, Pair, beside_season, weeks_left_behind
from sessions.week_words import joined, session_words

PARTS: Mapping[str, str | Promise] = {
    "lanes": _("other lanes"),
    "observers": _("another number of coaches"),
    "priority": _("another priority"),
    "preferred": _("another usual time"),
    "venues": _("other venues"),
    "coaches": _("other coaches"),
    "qualified": _("other coaches"),
}


@dataclass(frozen=True)
class BesideView:
    """One week: a line for each session that is asked for and not held as it is, and for each that is still held."""

    week: IsoWeek
    is_published: bool
    asks: tuple[str, ...]
    holds: tuple[str, ...]


def beside_view(viewer: Viewer, week: WeekPlan) -> BesideView | None:
    """None where the week is as the season wants it, or the season was not changed since."""
    found = beside_season(viewer=viewer, week=week)
    return _view(viewer, week, found) if found is not None else None


def views_left_behind(viewer: Viewer, season: SeasonPlan) -> list[BesideView]:
    """The weeks made before the season was changed that hold something else."""
    return [_view(viewer, week, found) for week, found in weeks_left_behind(viewer=viewer, season=season)]


def _view(viewer: Viewer, week: WeekPlan, found: BesideSeason) -> BesideView:
    retold = [pair for pair in found.changed if _line(pair.asked) != _line(pair.held)]
    detailed = [pair for pair in found.changed if pair not in retold]
    asks = [_line(one) for one in found.added] + [_line(pair.asked) for pair in retold]
    return BesideView(
        week=IsoWeek(week.monday, ZoneInfo(viewer.club.timezone)),
        is_published=week.published_at is not None,
        asks=(*asks, *map(_with_parts, detailed)),
        holds=tuple([_line(one) for one in found.dropped] + [_line(pair.held) for pair in retold]),
    )


def _line(one: Demand | PatternDemand) -> str:
    """ "Sprint technique, 60 min"."""
    group = one.item.group if isinstance(one, PatternDemand) else one.group
    told = {"session": session_words(group.name, one.kind, one.also), "minutes": one.duration_min}
    return gettext("%(session)s, %(minutes)d min") % told


def _with_parts(pair: Pair) -> str:
    parts = dict.fromkeys(str(word) for name, word in PARTS.items() if name in pair.differs)
    return gettext("%(session)s: %(parts)s") % {"session": _line(pair.asked), "parts": joined(list(parts))}
