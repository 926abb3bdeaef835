"""Public holidays of a country: suggestions for closings and special weeks, which nobody has to take."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class PublicHoliday:
    """A day and what it is called there."""

    day: date
    name: str


def public_holidays(*, country: str, first: date, last: date) -> list[PublicHoliday]:
    """The holidays from the first day to the last, in order; none for a country (ISO 3166-1, two letters) that the
    library does not know, or where the library is not installed."""
    try:
        from holidays import country_holidays
    except ModuleNotFoundError:
        return []
    try:
        found = country_holidays(country, years=range(first.year, last.year + 1))
    except NotImplementedError:
        return []
    return [PublicHoliday(day, str(name)) for day, name in sorted(found.items()) if first <= day <= last]
