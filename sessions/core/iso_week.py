"""One ISO week on the wall clock of a time zone."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

DAYS = 7
_LABEL = re.compile(r"(2\d{3})-W(\d{2})", re.ASCII)


@dataclass(frozen=True, slots=True)
class IsoWeek:
    """The week that begins on `monday`, on the wall clock of `zone`."""

    monday: date
    zone: ZoneInfo

    @property
    def label(self) -> str:
        """As ISO 8601 writes it: 2027-W10."""
        year, week, _ = self.monday.isocalendar()
        return f"{year:04d}-W{week:02d}"

    @property
    def number(self) -> int:
        return self.monday.isocalendar().week

    @property
    def days(self) -> tuple[date, ...]:
        return tuple(self.monday + timedelta(days=number) for number in range(DAYS))

    @property
    def sunday(self) -> date:
        return self.monday + timedelta(days=DAYS - 1)

    @property
    def starts_at(self) -> datetime:
        return self.at(self.monday, time())

    @property
    def ends_at(self) -> datetime:
        """The midnight that ends Sunday."""
        return self.at(self.monday + timedelta(days=DAYS), time())

    def at(self, day: date, wall: time) -> datetime:
        """The instant at which clocks of the zone show `wall` on `day`, in UTC so that lengths are real time."""
        return datetime.combine(day, wall, self.zone).astimezone(UTC)

    def day_of(self, moment: datetime) -> int:
        """Days from Monday to the date of `moment` in the zone: 0 to 6 within the week."""
        return (moment.astimezone(self.zone).date() - self.monday).days


def monday_of(day: date) -> date:
    """The Monday of the ISO week that holds `day`."""
    return day - timedelta(days=day.weekday())


def monday_of_label(label: str) -> date:
    """The Monday of "2027-W10"; ValueError where that is no ISO week of the years 2000 to 2999."""
    found = _LABEL.fullmatch(label)
    if found is None:
        raise ValueError(label)
    return date.fromisocalendar(int(found[1]), int(found[2]), 1)
