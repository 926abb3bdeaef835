"""Where and with whom the club can train: venues with hours and closings, coaches with evenings, absences, checks."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.models import Clearance, Person
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.core.stretches import Stretch
from sessions.models import CoachAbsence, CoachEvening, CoachSettings, Placement, Venue, VenueClosing, VenueOpening
from sessions.selectors.daylight import civil_daylight
from sessions.selectors.planned_places import MOST_SESSIONS_A_DAY


@dataclass
class VenueCard:
    """A venue with its weekly hours in force or to come, the closings that are not over, and today's civil dusk."""

    venue: Venue
    openings: list[VenueOpening] = field(default_factory=list)
    closings: list[VenueClosing] = field(default_factory=list)
    dusk: datetime | None = None


@dataclass
class CoachCard:
    """A coach's evenings and absences; `checks` by kind until when they hold."""

    coach: Person
    evenings: list[CoachEvening] = field(default_factory=list)
    absences: list[CoachAbsence] = field(default_factory=list)
    checks: list[Clearance] = field(default_factory=list)
    most_sessions_a_day: int = MOST_SESSIONS_A_DAY


@dataclass(frozen=True)
class Stranded:
    """A session of a week's draft that lies where it no longer can."""

    name: str
    starts_at: datetime
    week: str


def venue_cards(*, viewer: Viewer) -> list[VenueCard]:
    """The club's venues; three queries."""
    cards = {venue.pk: VenueCard(venue) for venue in Venue.objects.filter(club=viewer.club_id)}
    openings = VenueOpening.objects.filter(club=viewer.club_id).exclude(last_day__lt=viewer.today)
    for opening in openings.order_by("weekday", "starts", "first_day", "pk"):
        cards[opening.venue_id].openings.append(opening)
    closings = VenueClosing.objects.filter(club=viewer.club_id, ends_at__gt=viewer.now)
    for closing in closings.order_by("starts_at", "pk"):
        cards[closing.venue_id].closings.append(closing)
    for card in cards.values():
        card.dusk = _dusk(card.venue, viewer)
    return list(cards.values())


def coach_cards(*, viewer: Viewer, coaches: Sequence[Person]) -> list[CoachCard]:
    """The given coaches; four queries."""
    cards = {coach.pk: CoachCard(coach) for coach in coaches}
    evenings = CoachEvening.objects.filter(coach__in=cards).exclude(last_day__lt=viewer.today)
    for evening in evenings.order_by("weekday", "starts", "first_day", "pk"):
        cards[evening.coach_id].evenings.append(evening)
    for absence in CoachAbsence.objects.filter(coach__in=cards, ends_at__gt=viewer.now).order_by("starts_at", "pk"):
        cards[absence.coach_id].absences.append(absence)
    for settings in CoachSettings.objects.filter(coach__in=cards):
        cards[settings.coach_id].most_sessions_a_day = settings.max_sessions_per_day
    latest: dict[tuple[UUID, str], Clearance] = {}
    for check in Clearance.objects.filter(coach__in=cards).order_by("expires_on", "pk"):
        latest[check.coach_id, check.kind] = check
    for check in latest.values():
        cards[check.coach_id].checks.append(check)
    return list(cards.values())


def stranded(
    *, viewer: Viewer, span: Stretch, venue: Venue | None = None, coach: Person | None = None
) -> list[Stranded]:
    """The drafts' sessions still to come that lie in a stretch at a venue, or with a coach."""
    rows = Placement.objects.filter(club=viewer.club_id, starts_at__lt=span[1], ends_at__gt=max(span[0], viewer.now))
    rows = rows.filter(venue=venue) if venue is not None else rows.filter(coaches=coach)
    zone = ZoneInfo(viewer.club.timezone)
    found = rows.select_related("demand__group").order_by("starts_at", "pk")
    return [
        Stranded(
            f"{row.demand.group.name} {row.demand.get_kind_display()}",
            row.starts_at.astimezone(zone),
            IsoWeek(monday_of(row.starts_at.astimezone(zone).date()), zone).label,
        )
        for row in found
    ]


def whole_days(viewer: Viewer, first: date, last: date) -> Stretch:
    """From the midnight that begins the first day to the one that ends the last, on the club's clock."""
    week = IsoWeek(monday_of(first), ZoneInfo(viewer.club.timezone))
    return week.at(first, time()), week.at(last + timedelta(days=1), time())


def _dusk(venue: Venue, viewer: Viewer) -> datetime | None:
    """When it gets dark today at a venue without lights whose place is known."""
    if venue.has_lights or venue.latitude is None or venue.longitude is None:
        return None
    zone = ZoneInfo(viewer.club.timezone)
    week = IsoWeek(monday_of(viewer.today), zone)
    light = civil_daylight(latitude=venue.latitude, longitude=venue.longitude, week=week)
    of_today = (end for _start, end in light if end.astimezone(zone).date() == viewer.today)
    found = next(of_today, None)
    return found.astimezone(zone) if found else None
