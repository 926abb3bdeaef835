"""Who may see what of an athlete: said to the athlete, by name."""

from dataclasses import dataclass, replace
from uuid import UUID

from athletes.circumstances.facts import circumstances
from athletes.core.permissions import Guardian, decide
from athletes.core.permissions.facts import Act, Authority, Role, Stance
from athletes.models import CoachAssignment, Guardianship, PermissionEvent, Person, Withholding
from athletes.viewer import Viewer, in_force
from teamtrack.common.row_security import rows_open


@dataclass(frozen=True)
class WhoSees:
    """Coaches assigned today to the athlete's groups, and guardians whose view the decision allows."""

    coaches: tuple[Person, ...]
    guardians: tuple[Person, ...]


def who_sees(*, viewer: Viewer, purpose: str) -> WhoSees:
    """Who sees `purpose` of the viewer, an athlete; a fixed number of queries."""
    day = viewer.today
    assigned = CoachAssignment.objects.filter(
        in_force(day), in_force(day, "group__memberships__"), group__memberships__athlete=viewer.person_id
    )
    coaches = Person.objects.filter(pk__in=assigned.values("coach_id")).order_by("family_name", "given_name")
    return WhoSees(coaches=tuple(coaches), guardians=tuple(_guardians(viewer, purpose)))


def _guardians(viewer: Viewer, purpose: str) -> list[Person]:
    found = circumstances(viewer=viewer, athletes=[viewer.person], purposes=[purpose])
    asked = replace(found.facts(viewer.person_id, purpose, act=Act.VIEW_AS_GUARDIAN), by=Role.GUARDIAN)
    stances = _own_answers(viewer, purpose)
    day = viewer.today
    withheld = Withholding.objects.filter(in_force(day), athlete=viewer.person_id).values("guardian_id")
    linked = Guardianship.objects.filter(in_force(day), athlete=viewer.person_id).exclude(guardian__in=withheld)
    found_views = []
    for link in linked.select_related("guardian").order_by("guardian__family_name", "guardian__given_name"):
        only = (Guardian(authority=Authority(link.authority)),)
        stance = stances.get(link.guardian_id, Stance.NONE)
        if decide(replace(asked, guardians=only, athlete=stance)).may:
            found_views.append(link.guardian)
    return found_views


def _own_answers(viewer: Viewer, purpose: str) -> dict[UUID, Stance]:
    """By guardian: the viewer's latest answer about what that guardian may see of `purpose`."""
    events = PermissionEvent.objects.filter(
        athlete=viewer.person_id, purpose=purpose, about_guardian__isnull=False, at__lte=viewer.now
    )
    rows = events.order_by("at", "id").values_list("about_guardian_id", "answer")
    with rows_open(club_id=viewer.club_id):
        return {guardian_id: Stance(answer) for guardian_id, answer in rows if guardian_id}
