"""Where and with whom a week can be planned: venues' open hours and coaches' evenings of one ISO week."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import timedelta
from uuid import UUID

from django.db.models import Q

from athletes.circumstances.relations import NEEDED_CLEARANCE
from athletes.core import ages
from athletes.models import Clearance, GroupMembership, Person
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.stretches import Stretch, merged, within, without
from sessions.models import CoachAbsence, CoachEvening, CoachSettings, Venue, VenueClosing, VenueOpening
from sessions.selectors.daylight import civil_daylight
from sessions.selectors.planned_people import in_force_in

MOST_SESSIONS_A_DAY = 2


@dataclass
class PlannedVenue:
    """`hours` are its weekly opening, `open` what closings and dusk leave of it."""

    venue: Venue
    hours: list[Stretch] = field(default_factory=list)
    open: list[Stretch] = field(default_factory=list)


@dataclass
class PlannedCoach:
    """A helper is under 18, or of unknown age; `is_checked`: the background check holds all week."""

    coach: Person
    is_helper: bool
    is_checked: bool = False
    most_sessions_a_day: int = MOST_SESSIONS_A_DAY
    available: list[Stretch] = field(default_factory=list)
    trains_in: set[UUID] = field(default_factory=set)

    def may_lead(self, group: UUID, *, has_minors: bool) -> bool:
        """Never minors without a check that holds; a helper never the group in which they train."""
        if self.is_helper:
            return group not in self.trains_in
        return self.is_checked or not has_minors


def planned_venues(*, viewer: Viewer, week: IsoWeek) -> dict[UUID, PlannedVenue]:
    """All venues of the club; three queries."""
    found = {venue.pk: PlannedVenue(venue) for venue in Venue.objects.filter(club=viewer.club_id)}
    bounds = (week.starts_at, week.ends_at)
    hours = VenueOpening.objects.filter(in_force_in(week), club=viewer.club_id)
    closed: dict[UUID, list[Stretch]] = defaultdict(list)
    for row in VenueClosing.objects.filter(club=viewer.club_id, ends_at__gt=bounds[0], starts_at__lt=bounds[1]):
        closed[row.venue_id].append((row.starts_at, row.ends_at))
    weekly = weekly_hours(((row.venue_id, row) for row in hours), week)
    for venue_id, planned in found.items():
        planned.hours = within(weekly.get(venue_id, ()), bounds)
        planned.open = without(_lit(planned, week), closed[venue_id])
    return found


def planned_coaches(*, viewer: Viewer, week: IsoWeek, coach_ids: Iterable[UUID]) -> dict[UUID, PlannedCoach]:
    """The given coaches of the club; a fixed number of queries."""
    people = Person.objects.filter(club=viewer.club_id, pk__in=set(coach_ids)).order_by(
        "family_name", "given_name", "pk"
    )
    found = {person.pk: PlannedCoach(person, _is_helper(person, week)) for person in people}
    for coach_id, most in CoachSettings.objects.filter(coach__in=found).values_list("coach_id", "max_sessions_per_day"):
        found[coach_id].most_sessions_a_day = most
    _read_checks(found, week)
    _read_evenings(found, week)
    for athlete_id, group_id in GroupMembership.objects.filter(in_force_in(week), athlete__in=found).values_list(
        "athlete_id", "group_id"
    ):
        found[athlete_id].trains_in.add(group_id)
    return found


def _is_helper(person: Person, week: IsoWeek) -> bool:
    return person.birth_date is None or ages.is_minor(ages.age_on(person.birth_date, week.monday))


def _read_checks(found: dict[UUID, PlannedCoach], week: IsoWeek) -> None:
    holds = Q(kind=NEEDED_CLEARANCE, seen_on__lte=week.monday, expires_on__gte=week.sunday)
    for coach_id in Clearance.objects.filter(holds, coach__in=found).values_list("coach_id", flat=True):
        found[coach_id].is_checked = True


def _read_evenings(found: dict[UUID, PlannedCoach], week: IsoWeek) -> None:
    evenings = CoachEvening.objects.filter(in_force_in(week), coach__in=found)
    absences: dict[UUID, list[Stretch]] = defaultdict(list)
    for row in CoachAbsence.objects.filter(coach__in=found, ends_at__gt=week.starts_at, starts_at__lt=week.ends_at):
        absences[row.coach_id].append((row.starts_at, row.ends_at))
    for coach_id, stretches in weekly_hours(((row.coach_id, row) for row in evenings), week).items():
        found[coach_id].available = without(stretches, absences[coach_id])


def weekly_hours(rows: Iterable[tuple[UUID, VenueOpening | CoachEvening]], week: IsoWeek) -> dict[UUID, list[Stretch]]:
    """Weekly wall hours on the dates on which they hold; an end at or before its start is on the next day."""
    found: dict[UUID, list[Stretch]] = defaultdict(list)
    for owner, row in rows:
        day = week.days[row.weekday - 1]
        if row.first_day <= day and (row.last_day is None or day <= row.last_day):
            last_day = day if row.starts < row.ends else day + timedelta(days=1)
            found[owner].append((week.at(day, row.starts), week.at(last_day, row.ends)))
    return {owner: merged(stretches) for owner, stretches in found.items()}


def _lit(planned: PlannedVenue, week: IsoWeek) -> list[Stretch]:
    """The opening hours with enough light: all of them with lights, or where the place is not known."""
    venue = planned.venue
    if venue.has_lights or venue.latitude is None or venue.longitude is None:
        return planned.hours
    light = civil_daylight(latitude=venue.latitude, longitude=venue.longitude, week=week)
    return [piece for stretch in light for piece in within(planned.hours, stretch)]
