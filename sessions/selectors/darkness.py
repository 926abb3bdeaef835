"""When it is dark at venues without lights in hours in which they would be open: what civil dusk and dawn take away."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.stretches import Stretch, within
from sessions.models import Venue
from sessions.selectors.daylight import civil_daylight
from sessions.selectors.planned_places import weekly_hours


@dataclass(frozen=True)
class Dark:
    """One date at one venue: dark `until` civil dawn, `since` civil dusk, as far as it would be open then; all day
    where both are None."""

    venue: str
    day: date
    until: datetime | None = None
    since: datetime | None = None


class Darkness:
    """The club's venues without lights whose place is known, read once; two queries, however many weeks are asked."""

    def __init__(self, viewer: Viewer) -> None:
        rows = Venue.objects.filter(club=viewer.club_id, has_lights=False, latitude__isnull=False)
        self.venues = {one.pk: one for one in rows.exclude(longitude=None).prefetch_related("openings")}

    def of_week(self, week: IsoWeek, venue_ids: Collection[UUID], windows: Sequence[dict[str, Any]] = ()) -> list[Dark]:
        """What darkness takes from the opening hours of these venues in a week, or from the part of them that lies in
        the `windows` of a demand."""
        bounds = [(datetime.fromisoformat(one["start"]), datetime.fromisoformat(one["end"])) for one in windows]
        found = []
        for venue in self.venues.values():
            if venue.pk in venue_ids:
                hours = weekly_hours(((venue.pk, row) for row in venue.openings.all()), week).get(venue.pk, [])
                asked = bounds or [(week.starts_at, week.ends_at)]
                found += _dark_days(venue, [piece for bound in asked for piece in within(hours, bound)], week)
        return found


def _dark_days(venue: Venue, hours: Iterable[Stretch], week: IsoWeek) -> list[Dark]:
    assert venue.latitude is not None
    assert venue.longitude is not None
    light = civil_daylight(latitude=venue.latitude, longitude=venue.longitude, week=week)
    by_day = {week.day_of(stretch[0]): stretch for stretch in light}
    found: dict[int, Dark] = {}
    for start, end in hours:
        number = week.day_of(start)
        dark = found.get(number, Dark(venue.name, week.days[number]))
        dawn, dusk = by_day.get(number, (None, None))
        until, since = dawn if dawn and start < dawn else dark.until, dusk if dusk and dusk < end else dark.since
        if until or since or dawn is None:
            found[number] = replace(dark, until=until, since=since)
    return [found[number] for number in sorted(found)]
