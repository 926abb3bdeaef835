"""A person's own calendar: whose plans it may tell now, of which state of the plan, and what the plan says."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count, Max

from athletes.access import answers_for, athletes_visible_to
from athletes.models import Club, Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_for
from sessions.core.calendar_lines import CANCELLED_FOR, Planned, Told, line_id
from sessions.models import (
    CalendarAddress,
    CalendarLine,
    CalendarSettings,
    PlanChange,
    SessionAthlete,
    SessionCoach,
    TrainingSession,
)
from teamtrack.common.composed import Composed, ComposedValues, Given

FEED = "feed"
LEADING = (Role.COACH, Role.HEAD_COACH)
_CLUB = Given("club", Club._meta.pk)
_CHANGES = ComposedValues(
    lambda: (
        PlanChange.objects.filter(club=_CLUB)
        .order_by()
        .values("club")
        .annotate(count=Count("id"), newest=Max("id"))
        .values_list("count", "newest")
    )
)
_HIDING = ComposedValues(
    lambda: CalendarSettings.objects.filter(club=_CLUB, hides_venue=True).values_list("hides_venue")
)
_ADDRESS = Composed(
    lambda: CalendarAddress.objects.select_related("person__club").filter(
        secret_hash=Given("secret_hash", CalendarAddress._meta.get_field("secret_hash")),
        stopped_at=None,
        person__account__is_active=True,
    )
)
_TOLD = ComposedValues(
    lambda: (
        CalendarLine.objects.filter(reader=Given("reader", Person._meta.pk))
        .order_by("starts_at", "uid")
        .values_list(*_LINE)
    )
)


@dataclass(frozen=True)
class OwnCalendar:
    """What one person's calendar may tell: the own training, some children's, the sessions that they lead."""

    viewer: Viewer
    own: bool
    children: tuple[Person, ...]
    leads: bool

    @property
    def is_open(self) -> bool:
        return self.own or bool(self.children) or self.leads

    @property
    def athletes(self) -> list[UUID]:
        mine = [self.viewer.person_id] if self.own else []
        return [*mine, *(child.pk for child in self.children)]

    @property
    def names(self) -> dict[UUID, str]:
        """The first name of each own child."""
        return {child.pk: child.given_name for child in self.children}


@dataclass(frozen=True)
class Line:
    """One line with the athlete whose plan it is; none for a coach's own work."""

    told: Told
    about: UUID | None


def calendar_of(person: Person) -> OwnCalendar:
    """Asks the decision anew, in each role that the person holds: what their calendar may tell at this moment."""
    viewer = viewer_for(person)
    own = Role.ATHLETE in viewer.roles and _own_is_allowed(viewer.acting_as(Role.ATHLETE))
    is_guardian = Role.GUARDIAN in viewer.roles
    children = athletes_visible_to(viewer.acting_as(Role.GUARDIAN), FEED) if is_guardian else []
    return OwnCalendar(viewer, own, tuple(children), leads=any(role in viewer.roles for role in LEADING))


def _own_is_allowed(viewer: Viewer) -> bool:
    return answers_for(viewer=viewer, athletes=[viewer.person], purposes=[FEED]).may(viewer.person_id, FEED)


def address_of_secret(secret_hash: str) -> CalendarAddress | None:
    """The address that a secret opens, with its person and club: one not stopped, of an account in use."""
    return _ADDRESS.first(secret_hash=secret_hash)


def living_address(viewer: Viewer) -> CalendarAddress | None:
    """The viewer's own address, where there is one that opens something."""
    return CalendarAddress.objects.filter(person=viewer.person_id, stopped_at=None).first()


def hides_venue(viewer: Viewer) -> bool:
    """Whether the viewer's club leaves venues out of calendars."""
    return bool(_HIDING.rows(club=viewer.club_id))


def state_of(calendar: OwnCalendar) -> str:
    """A short text that changes whenever the calendar's text may: no session is read for it."""
    viewer = calendar.viewer
    count, newest = next(iter(_CHANGES.rows(club=viewer.club_id)), (0, None))
    said = [
        str(viewer.person_id), viewer.today.isoformat(), viewer.club.timezone, count, newest,
        hides_venue(viewer), calendar.own, calendar.leads,
        sorted((str(pk), name) for pk, name in calendar.names.items()),
    ]  # fmt: skip
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:32]


def planned_lines(calendar: OwnCalendar) -> dict[UUID, tuple[Planned, UUID | None]]:
    """What the plan says now, by the line's id, with whose plan it is; two queries at most."""
    viewer, hidden = calendar.viewer, hides_venue(calendar.viewer)
    around = {
        "training_session__club": viewer.club_id,
        "training_session__state": TrainingSession.State.PUBLISHED,
        "training_session__ends_at__gt": viewer.now - CANCELLED_FOR,
    }
    found: dict[UUID, tuple[Planned, UUID | None]] = {}
    if calendar.leads:
        led = SessionCoach.objects.filter(coach=viewer.person_id, taken_off_at=None, **around)
        for row in led.values_list("coach_id", *_SESSION):
            found[line_id(row[1], row[0])] = (_planned(row[2:], hidden), None)
    coming = SessionAthlete.objects.filter(athlete__in=calendar.athletes, **around)
    for row in coming.exclude(comes=SessionAthlete.Comes.AWAY).values_list("athlete_id", *_SESSION):
        found[line_id(row[1], row[0])] = (_planned(row[2:], hidden), row[0])
    return found


_SESSION = tuple(
    f"training_session__{name}" for name in ("id", "kind", "also", "starts_at", "ends_at", "venue__name", "place")
)


def _planned(row: tuple, hidden: bool) -> Planned:
    kind, also, starts_at, ends_at, venue, place = row
    return Planned(",".join((kind, *also)), starts_at, ends_at, "" if hidden else venue or place)


def told_lines(calendar: OwnCalendar) -> dict[UUID, tuple[UUID, Line]]:
    """What the person's calendar has told so far of whom it may tell now, by the line's id, with its row's id."""
    rows = _TOLD.rows(reader=calendar.viewer.person_id)
    allowed = {*calendar.athletes, *([None] if calendar.leads else [])}
    return {
        uid: (pk, Line(Told(Planned(*planned), sequence, changed_at, cancelled_at), about))
        for pk, uid, about, sequence, changed_at, cancelled_at, *planned in rows
        if about in allowed
    }


_LINE = (
    "id", "uid", "about_id", "sequence", "changed_at", "cancelled_at", "kinds", "starts_at", "ends_at", "place",
)  # fmt: skip
