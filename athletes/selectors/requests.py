"""Reads requests about athletes' data: an admin's, by the day they are due, and a family's own."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from athletes.access import answers_for
from athletes.circumstances.relations import adult_coaches_of
from athletes.models import CoachAssignment, DataRequest, Guardianship, Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force, viewer_for
from teamtrack.common.errors import NotFound

Kind = DataRequest.Kind
WHAT: dict[str, tuple[str, ...]] = {
    Kind.ACCESS: ("",),
    Kind.EXPORT: ("",),
    Kind.CORRECTION: ("record", "feedback", "health"),
    Kind.OBJECTION: ("feedback",),
    Kind.RESTRICTION: ("feedback", "health", "availability", "message"),
    Kind.ERASURE: ("feedback", "health", "log", "attendance", "plan", "record"),
}
"""What each kind of request may be about."""


@dataclass(frozen=True)
class RequestLine:
    """One request with its clock."""

    row: DataRequest
    days_left: int

    @property
    def is_late(self) -> bool:
        return self.days_left < 0


@dataclass(frozen=True)
class PutRight:
    """Who put right how much of what is written, and on which day last; never what it says."""

    by: str
    on: date
    count: int


_put_right: list[Callable[[Viewer, DataRequest], list[PutRight]]] = []


def register_put_right(told: Callable[[Viewer, DataRequest], list[PutRight]]) -> None:
    """Make known what tells how far a request to put something written right was followed."""
    if told not in _put_right:
        _put_right.append(told)


def put_right_because_of(viewer: Viewer, row: DataRequest) -> list[PutRight]:
    """Who put right how much because of a request of this club."""
    if row.kind != Kind.CORRECTION or row.club_id != viewer.club_id:
        return []
    return [one for told in _put_right for one in told(viewer, row)]


def coaches_to_put_right(viewer: Viewer, row: DataRequest) -> list[str]:
    """The names of the athlete's adult coaches of today who may use what a request wants put right."""
    if row.kind != Kind.CORRECTION or row.what == "record" or row.state != DataRequest.State.OPEN:
        return []
    ids = adult_coaches_of(athlete_ids=[row.athlete_id], day=viewer.today)
    people = Person.objects.filter(pk__in=ids, club=viewer.club_id).exclude(pk=row.athlete_id)
    found = []
    for coach in people.select_related("club").order_by("family_name", "given_name"):
        try:
            reader = viewer_for(coach, Role.COACH)
        except NotFound:
            continue
        if answers_for(viewer=reader, athletes=[row.athlete], purposes=[row.what]).may(row.athlete_id, row.what):
            found.append(coach.full_name)
    return found


def open_requests(viewer: Viewer) -> list[RequestLine]:
    """The club's open requests, the first due first; one query."""
    return [_line(viewer, row) for row in _of_admin(viewer).filter(state=DataRequest.State.OPEN)]


def ended_requests(viewer: Viewer) -> list[RequestLine]:
    """The last ones that ended, newest first; one query."""
    rows = _of_admin(viewer).exclude(state=DataRequest.State.OPEN).order_by("-ended_on", "-id")[:30]
    return [_line(viewer, row) for row in rows]


def get_request(viewer: Viewer, request_id: UUID) -> RequestLine:
    """One request, for an admin."""
    row = _of_admin(viewer).filter(pk=request_id).first()
    if row is None:
        raise NotFound()
    return _line(viewer, row)


def own_requests(*, viewer: Viewer, athlete: Person) -> list[RequestLine]:
    """What the viewer has asked about this athlete in the role of the request, newest first; one query."""
    rows = DataRequest.objects.filter(
        club=viewer.club_id, athlete=athlete, asked_by=viewer.person_id, capacity=viewer.role
    )
    return [_line(viewer, row) for row in rows.order_by("-received_on", "-id")]


def may_be_in_the_case(*, viewer: Viewer, athlete: Person) -> bool:
    """Whether an admin or welfare lead is the athlete, a guardian or a coach of the athlete."""
    own = Guardianship.objects.filter(in_force(viewer.today), athlete=athlete, guardian=viewer.person_id)
    coached = CoachAssignment.objects.filter(
        in_force(viewer.today), in_force(viewer.today, "group__memberships__"),
        coach=viewer.person_id, group__memberships__athlete=athlete,
    )  # fmt: skip
    return athlete.pk == viewer.person_id or own.exists() or coached.exists()


def _of_admin(viewer: Viewer):  # type: ignore[no-untyped-def]
    if viewer.role != Role.ADMIN:
        raise NotFound()
    return DataRequest.objects.filter(club=viewer.club_id).select_related("athlete", "asked_by", "acted_by")


def _line(viewer: Viewer, row: DataRequest) -> RequestLine:
    return RequestLine(row, (row.due_on - viewer.today).days)
