"""The season's pattern as the demands that a week of it has, before any row is made of them."""

from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.season import Pattern, demands_of_week, usual_starts
from sessions.models import PatternItem
from sessions.selectors.planned_people import planned_people
from sessions.selectors.season_week import SeasonWeek, pattern_items


class PatternDemand:
    """One session of the pattern in a given week, with all that a problem asks of a demand; its key is the item's."""

    is_pinned = False

    def __init__(self, item: PatternItem, week: IsoWeek) -> None:
        self.item = item
        self.pk, self.group_id = item.pk, item.group_id
        self.kind, self.also, self.duration_min = item.kind, item.also, item.duration_min
        self.priority, self.lanes, self.observers = item.priority, item.lanes, item.observers
        self.venues, self.coaches, self.qualified = item.venues, item.coaches, item.qualified
        self.windows: list[dict[str, str]] = []
        self.preferred = _preferred(item, week)


def pattern_demands(*, viewer: Viewer, found: SeasonWeek, week: IsoWeek) -> list[PatternDemand]:
    """What the season asks of the week, its modifiers reckoned in; nothing in a gap between phases."""
    if found.phase is None:
        return []
    items = {item.pk: item for item in pattern_items(phase=found.phase)}
    patterns = [Pattern(item.pk, item.group_id, item.priority, item.order) for item in items.values()]
    shares = planned_people(viewer=viewer, week=week).squad_shares()
    return [PatternDemand(items[kept.id], week) for kept in demands_of_week(patterns, found.limits, shares)]


def _preferred(item: PatternItem, week: IsoWeek) -> list[dict[str, str]]:
    """The usual slot as the planning contract's `preferred`: the starts that lie in it."""
    if item.usual_weekday is None or item.usual_from is None:
        return []
    slot = (item.usual_from, item.usual_until)
    first, last = usual_starts(week, weekday=item.usual_weekday, slot=slot, duration_min=item.duration_min)
    starts, ends = (moment.astimezone(week.zone).isoformat(timespec="minutes") for moment in (first, last))
    return [{"start": starts, "end": ends}]
