"""Civil daylight at a venue: from civil dawn to civil dusk, the sun six degrees below the horizon."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import dawn, dusk, elevation, noon

from sessions.core.iso_week import IsoWeek
from sessions.core.stretches import Stretch

CIVIL_DEG = -6.0


def civil_daylight(*, latitude: float, longitude: float, week: IsoWeek) -> list[Stretch]:
    """The light stretch of each date of the week; a date on which it never gets light has none."""
    observer = Observer(latitude=latitude, longitude=longitude)
    return [light for day in week.days if (light := _light_of(observer, day, week)) is not None]


def _light_of(observer: Observer, day: date, week: IsoWeek) -> Stretch | None:
    """Where the sun does not cross the line on this date it is light all day or not at all: noon tells which."""
    midday = noon(observer, day)
    if elevation(observer, midday) < CIVIL_DEG:
        return None
    midnight, next_midnight = week.at(day, time()), week.at(day + timedelta(days=1), time())
    first = _first_light(observer, day, midday, midnight, week.zone)
    return first, _last_light(observer, day, midday, next_midnight, week.zone)


def _first_light(observer: Observer, day: date, midday: datetime, midnight: datetime, zone: ZoneInfo) -> datetime:
    try:
        found = dawn(observer, day, tzinfo=zone)
    except ValueError:  # the sun never sinks that low, or not on this date
        return midnight
    return found if found < midday else midnight


def _last_light(observer: Observer, day: date, midday: datetime, next_midnight: datetime, zone: ZoneInfo) -> datetime:
    try:
        found = dusk(observer, day, tzinfo=zone)
    except ValueError:  # the sun never sinks that low, or only after midnight
        return next_midnight
    return found if found > midday else next_midnight
