"""What an admin sees to put a record right: the person, numbers to ring, guardians, what was changed before."""

from dataclasses import dataclass
from uuid import UUID

from athletes.access import get_person_to_correct
from athletes.models import ContactNumber, Correction, DataRequest, Guardianship, Person
from athletes.selectors.requests import get_request, may_be_in_the_case
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound

MOST_SHOWN = 50


@dataclass(frozen=True)
class PersonRecord:
    """A person's record; in the own case others change what decides who may decide."""

    person: Person
    is_athlete: bool
    numbers: list[ContactNumber]
    guardians: list[Guardianship]
    children: list[Guardianship]
    is_own_case: bool
    request: DataRequest | None


def person_record(viewer: Viewer, person_id: UUID, *, request_id: UUID | None = None) -> PersonRecord:
    """The record, and the request for which it is looked at; fixed queries. Raises NotFound for a stranger's."""
    person = get_person_to_correct(viewer, person_id)
    links = Guardianship.objects.order_by("-first_day", "id")
    children = list(links.filter(guardian=person).select_related("athlete"))
    return PersonRecord(
        person=person,
        is_athlete=person.memberships.exists(),
        numbers=list(ContactNumber.objects.filter(athlete=person)),
        guardians=list(links.filter(athlete=person).select_related("guardian", "papers_seen_by")),
        children=children,
        is_own_case=may_be_in_the_case(viewer=viewer, athlete=person),
        request=_request(viewer, {person.pk, *(link.athlete_id for link in children)}, request_id),
    )


def _request(viewer: Viewer, about: set[UUID], request_id: UUID | None) -> DataRequest | None:
    if request_id is None:
        return None
    row = get_request(viewer, request_id).row
    if row.athlete_id not in about or row.kind != DataRequest.Kind.CORRECTION:
        raise NotFound()
    return row


def corrections_of(viewer: Viewer, record: PersonRecord) -> list[Correction]:
    """What was changed in the record, newest first; one query."""
    rows = Correction.objects.filter(club=viewer.club_id, person=record.person).select_related("by")
    return list(rows[:MOST_SHOWN])


def corrections_for(viewer: Viewer, request: DataRequest) -> list[Correction]:
    """What was put right because a request asked for it; one query."""
    rows = Correction.objects.filter(club=viewer.club_id, request=request).select_related("by", "person")
    return list(rows[:MOST_SHOWN])
