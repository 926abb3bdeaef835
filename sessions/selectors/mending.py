"""What can be marked to mend a week: each venue and each coach by the days that are still to come."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.models import Person
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.stretches import Stretch
from sessions.models import CoachAbsence, Demand, Venue, VenueClosing, WeekPlan
from sessions.selectors.planned_places import planned_coaches, planned_venues
from sessions.selectors.week_draft import demands_of, draft_places

Dated = tuple[UUID, datetime]
Marked = tuple[UUID, datetime, datetime]


@dataclass(frozen=True)
class MarkedDay:
    """One day of a venue or coach: how many sessions lie there in the draft, and whether it is marked."""

    day: date
    sessions: int
    is_marked: bool
    could: bool


@dataclass(frozen=True)
class MarkedRow:
    """A venue or coach of the week's sessions with its days."""

    id: UUID
    name: str
    days: tuple[MarkedDay, ...]


@dataclass(frozen=True)
class Mending:
    """All that one tap can mark."""

    venues: tuple[MarkedRow, ...]
    coaches: tuple[MarkedRow, ...]


def mending_of(*, viewer: Viewer, week: WeekPlan) -> Mending:
    """For whoever plans; a fixed number of queries."""
    iso_week = IsoWeek(week.monday, ZoneInfo(viewer.club.timezone))
    demands = demands_of(week)
    places = draft_places(demands).values()
    days = [day for day in iso_week.days if day >= viewer.today]
    span = {"club": viewer.club_id, "ends_at__gt": iso_week.starts_at, "starts_at__lt": iso_week.ends_at}
    closed = list(VenueClosing.objects.filter(**span).values_list("venue_id", "starts_at", "ends_at"))
    away = list(CoachAbsence.objects.filter(**span).values_list("coach_id", "starts_at", "ends_at"))
    venues = planned_venues(viewer=viewer, week=iso_week)
    coaches = planned_coaches(viewer=viewer, week=iso_week, coach_ids=_coaches(demands))
    used_venues = [(UUID(place.venue), place.starts_at) for place in places]
    used_coaches = [(UUID(coach), place.starts_at) for place in places for coach in place.coaches]
    return Mending(
        venues=tuple(
            _row(one.venue, one.venue.name, one.hours, used_venues, closed, days, iso_week) for one in venues.values()
        ),
        coaches=tuple(
            _row(one.coach, one.coach.full_name, one.available, used_coaches, away, days, iso_week)
            for one in coaches.values()
        ),
    )


def _coaches(demands: Collection[Demand]) -> set[UUID]:
    return {coach.pk for demand in demands for coach in demand.coaches.all()}


def _row(
    owner: Venue | Person, name: str, hours: Collection[Stretch], used: Collection[Dated], marks: Collection[Marked],
    days: Collection[date], week: IsoWeek,
) -> MarkedRow:  # fmt: skip
    lying = [week.days[week.day_of(at)] for one, at in used if one == owner.pk and at < week.ends_at]
    found = []
    for day in days:
        begins, ends = week.at(day, time()), week.at(day + timedelta(days=1), time())
        is_marked = any(one == owner.pk and first <= begins and ends <= last for one, first, last in marks)
        could = any(first < ends and begins < last for first, last in hours)
        found.append(MarkedDay(day, lying.count(day), is_marked, could))
    return MarkedRow(owner.pk, name, tuple(found))
