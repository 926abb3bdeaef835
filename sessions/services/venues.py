"""Adds and changes venues, their weekly hours and closings; the planner reads them when it next builds a week."""

from dataclasses import dataclass
from datetime import date, datetime, time
from uuid import UUID

from django.db import transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext

from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_venue
from sessions.models import PatternItem, Venue, VenueClosing, VenueOpening
from teamtrack.common.errors import Conflict, NotFound, Refused

FIELDS = (
    "name", "lanes", "straight_cm", "roll_in_cm", "run_out_cm", "surface", "has_lights", "is_shared", "latitude",
    "longitude",
)  # fmt: skip


@dataclass(frozen=True)
class Hours:
    """A weekly stretch of the wall clock, weekday 1 is Monday, from a first day on and up to a last one if there is."""

    weekday: int
    starts: time
    ends: time
    first_day: date
    last_day: date | None = None


def venue_values(venue: Venue) -> dict[str, object]:
    """What a head coach sets of a venue."""
    return {name: getattr(venue, name) for name in FIELDS}


@transaction.atomic
def add_venue(*, viewer: Viewer, wanted: dict[str, object]) -> Venue:
    """A new venue; asked twice with the same name it is refused, so that a second press makes no second one."""
    if viewer.role != Role.HEAD_COACH:
        raise NotFound()
    _refuse_same_name(viewer, str(wanted["name"]), None)
    venue = Venue.objects.create(club_id=viewer.club_id, **wanted)
    log_acts(viewer=viewer, acts=[Act("made", "venue", fields=FIELDS)])
    return venue


@transaction.atomic
def change_venue(*, viewer: Viewer, venue_id: UUID, shown: dict[str, object], wanted: dict[str, object]) -> bool:
    """Write what is wanted where the venue still is as the viewer was `shown`; whether anything was changed."""
    get_venue(viewer, venue_id)
    venue = Venue.objects.select_for_update().get(pk=venue_id)
    now = venue_values(venue)
    if now != shown:
        raise Conflict(
            "VENUE_CHANGED",
            gettext(
                "Somebody changed this venue while you were typing. Nothing of yours was saved: look and save again."
            ),
        )
    changed = tuple(name for name in FIELDS if now[name] != wanted[name])
    if not changed:
        return False
    _refuse_same_name(viewer, str(wanted["name"]), venue_id)
    Venue.objects.filter(pk=venue_id).update(**wanted)
    log_acts(viewer=viewer, acts=[Act("set", "venue", fields=changed)])
    return True


@transaction.atomic
def remove_venue(*, viewer: Viewer, venue_id: UUID) -> None:
    """Take away a venue on which nothing hangs: a slip of the hand. Raises Refused for one that is in use."""
    venue = get_venue(viewer, venue_id)
    in_use = gettext(
        "Sessions or the season's pattern use this venue. Take its hours away instead: then nothing is planned there."
    )
    if PatternItem.objects.filter(venues=venue).exists():
        raise Refused("IN_USE", in_use)
    try:
        venue.delete()
    except ProtectedError:
        raise Refused("IN_USE", in_use) from None
    log_acts(viewer=viewer, acts=[Act("removed", "venue")])


@transaction.atomic
def open_venue(*, viewer: Viewer, venue_id: UUID, weekdays: list[int], hours: Hours) -> list[VenueOpening]:
    """The same hours on each of the weekdays; those that stand there already are not added again."""
    venue = get_venue(viewer, venue_id)
    told = {"starts": hours.starts, "ends": hours.ends, "first_day": hours.first_day, "last_day": hours.last_day}
    made = []
    for weekday in weekdays:
        row, is_new = VenueOpening.objects.get_or_create(club_id=viewer.club_id, venue=venue, weekday=weekday, **told)
        made += [row] if is_new else []
    if made:
        log_acts(viewer=viewer, acts=[Act("made", "venue_hours")])
    return made


@transaction.atomic
def remove_openings(*, viewer: Viewer, venue_id: UUID, opening_ids: list[UUID]) -> list[Hours]:
    """Take weekly hours away; what they were, those that somebody took away meanwhile left out."""
    venue = get_venue(viewer, venue_id)
    rows = list(VenueOpening.objects.filter(venue=venue, pk__in=opening_ids))
    VenueOpening.objects.filter(pk__in=[row.pk for row in rows]).delete()
    if rows:
        log_acts(viewer=viewer, acts=[Act("removed", "venue_hours")])
    return [Hours(row.weekday, row.starts, row.ends, row.first_day, row.last_day) for row in rows]


@transaction.atomic
def close_venue(
    *, viewer: Viewer, venue_id: UUID, starts_at: datetime, ends_at: datetime, reason: str
) -> tuple[VenueClosing, bool]:
    """Shut a venue for a stretch, and whether that is new: the same stretch twice is one closing."""
    venue = get_venue(viewer, venue_id)
    closing, is_new = VenueClosing.objects.get_or_create(
        club_id=viewer.club_id, venue=venue, starts_at=starts_at, ends_at=ends_at, defaults={"reason": reason}
    )
    if is_new:
        log_acts(viewer=viewer, acts=[Act("made", "venue_closing")])
    return closing, is_new


@transaction.atomic
def remove_closing(*, viewer: Viewer, venue_id: UUID, closing_id: UUID) -> VenueClosing | None:
    """Open a venue again; the closing as it was, None where somebody else took it away."""
    venue = get_venue(viewer, venue_id)
    closing = VenueClosing.objects.filter(venue=venue, pk=closing_id).first()
    if closing is not None:
        VenueClosing.objects.filter(pk=closing.pk).delete()
        log_acts(viewer=viewer, acts=[Act("removed", "venue_closing")])
    return closing


def _refuse_same_name(viewer: Viewer, name: str, but: UUID | None) -> None:
    if Venue.objects.filter(club=viewer.club_id, name__iexact=name).exclude(pk=but).exists():
        text = gettext("The club has a venue of this name already.")
        raise Refused("SAME_NAME", text)
