"""Numbers to ring about a child, as one of the guardians may see them."""

from dataclasses import dataclass
from uuid import UUID

from athletes.access import Answers, get_athlete_and_answers
from athletes.core.permissions.facts import Authority
from athletes.models import ContactNumber, Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound


@dataclass(frozen=True)
class Contacts:
    """The guardian's own entries, and how many others the club has: guardians never see each other's."""

    athlete: Person
    numbers: tuple[ContactNumber, ...]
    others: int


def contacts(viewer: Viewer, athlete_id: UUID) -> Contacts:
    """The numbers of the own child, for a guardian who may decide; absent and not yours are the same."""
    athlete = get_child_to_ring_about(viewer, athlete_id)
    rows = list(ContactNumber.objects.filter(athlete=athlete))
    own = tuple(row for row in rows if row.entered_by_id == viewer.person_id)
    return Contacts(athlete, own, len(rows) - len(own))


def get_child_to_ring_about(viewer: Viewer, athlete_id: UUID) -> Person:
    """The own child of a guardian with full authority who may view its record."""
    viewer.must_be(Role.GUARDIAN)
    athlete, answers = get_athlete_and_answers(viewer, athlete_id, ("record",))
    if not is_decided_by(viewer, answers, athlete_id):
        raise NotFound()
    return athlete


def is_decided_by(viewer: Viewer, answers: Answers, athlete_id: UUID) -> bool:
    """Whether the viewer is a guardian who may decide for this child."""
    return answers.found.guardians[athlete_id].get(viewer.person_id) is Authority.FULL
