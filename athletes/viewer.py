"""Who asks: a person of a club, acting in one role at a time."""

import uuid
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from uuid import UUID

from django.db import connection
from django.db.models import Exists, Max, Q
from django.http import HttpRequest

from athletes.models import Club, Membership, Person
from athletes.models.accounts import Role
from teamtrack.common.clock import now_in
from teamtrack.common.composed import planned_rows
from teamtrack.common.errors import NotFound

_HELD = "first_day <= %(day)s AND (last_day IS NULL OR last_day >= %(day)s)"
_ROLES_HELD = f"""
SELECT role FROM athletes_staffrole WHERE person_id = %(person)s AND {_HELD}
UNION SELECT 'athlete' FROM athletes_membership WHERE athlete_id = %(person)s AND {_HELD}
UNION SELECT 'guardian' FROM athletes_guardianship WHERE guardian_id = %(person)s AND {_HELD}"""  # noqa: S608


SERVER = "server"
"""The role of the server itself: in the night it removes what is over its time, and reads nothing for anybody."""


@dataclass(frozen=True)
class Viewer:
    """A person acting in one role; `now` is the club's time in the club's zone."""

    person: Person
    club: Club
    role: str
    now: datetime
    roles: tuple[str, ...] = ()
    request_id: str = field(default="", compare=False)

    @property
    def person_id(self) -> UUID:
        return self.person.pk

    @property
    def club_id(self) -> UUID:
        return self.club.pk

    @property
    def today(self) -> date:
        return self.now.date()

    def must_be(self, *roles: str) -> None:
        """Whoever acts in another role finds nothing here."""
        if self.role not in roles:
            raise NotFound()

    def acting_as(self, role: str) -> "Viewer":
        """The same person in another of the roles held; one not held is not found."""
        if role not in self.roles:
            raise NotFound()
        return self if role == self.role else replace(self, role=role)


def server_viewer(club: Club) -> Viewer:
    """The server itself, of a club: nobody's person, no role that a page knows."""
    return Viewer(person=Person(pk=UUID(int=0), club=club), club=club, role=SERVER, now=now_in(club.timezone))


def in_force(day: date, prefix: str = "") -> Q:
    """Rows with first and last day that hold on `day`."""
    return Q(**{f"{prefix}first_day__lte": day}) & (
        Q(**{f"{prefix}last_day__isnull": True}) | Q(**{f"{prefix}last_day__gte": day})
    )


def roles_held(person: Person, day: date) -> tuple[str, ...]:
    """The roles of a person on a day, in the order of the navigation; one query."""
    values = {
        "person": Person._meta.pk.get_db_prep_value(person.pk, connection),
        "day": connection.ops.adapt_datefield_value(day),
    }
    found = {role for (role,) in planned_rows(_ROLES_HELD, values)}
    return tuple(role for role in Role.values if role in found)


def viewer_of(request: HttpRequest, role: str | None = None) -> Viewer:
    """The signed-in person in `role`, or in the first role held; a role not held is not found."""
    first: Viewer | None = request.__dict__.get("viewer_in_first_role")
    if first is None:
        first = request.__dict__["viewer_in_first_role"] = viewer_for(request.user.person, request_id=str(uuid.uuid4()))
    return first if role is None else first.acting_as(role)


def viewer_on_own_data(request: HttpRequest, role: str) -> Viewer:
    """As `viewer_of`, towards what is kept about oneself: there, and nowhere else, whoever was an athlete here and has
    left is one still (the permissions contract: left, no use but the athlete's own view and the log)."""
    try:
        return viewer_of(request, role)
    except NotFound:
        person: Person = request.user.person
        now = now_in(person.club.timezone)
        if role != Role.ATHLETE or left_with(person, now.date()) is None:
            raise
    return Viewer(person=person, club=person.club, role=role, now=now, request_id=str(uuid.uuid4()))


def left_with(athlete: Person, day: date) -> date | None:
    """With which day an athlete's last membership ended; None where one is in force, or none ever was. One query."""
    rows = Membership.objects.filter(athlete=athlete)
    ended = rows.filter(~Exists(rows.filter(in_force(day))), last_day__lt=day)
    found: date | None = ended.aggregate(last=Max("last_day"))["last"]
    return found


def viewer_for(person: Person, role: str | None = None, *, request_id: str = "") -> Viewer:
    """A person acting in `role` (tasks act as whoever asked for them)."""
    club = person.club
    now = now_in(club.timezone)
    roles = roles_held(person, now.date())
    if not roles:
        raise NotFound()
    viewer = Viewer(person=person, club=club, role=roles[0], now=now, roles=roles, request_id=request_id)
    return viewer if role is None else viewer.acting_as(role)
