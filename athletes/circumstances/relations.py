"""In which role a viewer stands towards athletes: assigned, assignment ended, helper, not assigned."""

from collections import defaultdict
from collections.abc import Collection
from datetime import date
from uuid import UUID

from django.db.models import Q

from athletes.circumstances.statements import assignment_rows, has_clearance
from athletes.core import ages
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Clearance, CoachAssignment, Guardianship
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force

NEEDED_CLEARANCE = Clearance.Kind.BACKGROUND


def roles_towards(*, viewer: Viewer, athlete_ids: Collection[UUID]) -> dict[UUID, ActingRole]:
    """The acting role towards each athlete; oneself is `athlete` only in that role."""
    if viewer.role != Role.COACH:
        return {athlete_id: ActingRole(viewer.role) for athlete_id in athlete_ids}
    assigned = _assigned(viewer, athlete_ids)
    return {athlete_id: _coach_role(viewer, assigned.get(athlete_id, set())) for athlete_id in athlete_ids}


def role_of_coach_on(*, viewer: Viewer, day: date) -> ActingRole:
    """As whom a coach or helper on a training session's own list acts on its day."""
    born = viewer.person.birth_date
    if born is None or ages.is_minor(ages.age_on(born, day)):
        return ActingRole.COACH_MINOR
    return ActingRole.COACH if has_clearance(viewer.person_id, day, kind=NEEDED_CLEARANCE) else ActingRole.COACH_ENDED


def adult_coaches_of(*, athlete_ids: Collection[UUID], day: date) -> set[UUID]:
    """The adult coaches assigned on `day` to a group of one of the athletes."""
    rows = CoachAssignment.objects.filter(
        in_force(day), in_force(day, "group__memberships__"), group__memberships__athlete__in=athlete_ids
    ).values_list("coach_id", "coach__birth_date")
    return {coach_id for coach_id, born in rows if born and not ages.is_minor(ages.age_on(born, day))}


def is_adult_on_day(viewer: Viewer) -> bool:
    """Whether the viewer is known to be 18 or over."""
    born = viewer.person.birth_date
    return born is not None and not ages.is_minor(ages.age_on(born, viewer.today))


def candidates_of(viewer: Viewer) -> Q:
    """A filter on people that holds every athlete whom the decision could allow to this viewer, and more."""
    if viewer.role == Role.ATHLETE:
        return Q(pk=viewer.person_id)
    if viewer.role == Role.GUARDIAN:
        mine = Guardianship.objects.filter(in_force(viewer.today), guardian=viewer.person_id)
        return Q(pk__in=mine.values("athlete_id"))
    return Q(memberships__isnull=False)


def _assigned(viewer: Viewer, athlete_ids: Collection[UUID]) -> dict[UUID, set[str]]:
    """For each athlete: `now` and `ended`, by the assignments of the coach to the athlete's groups of today."""
    if not athlete_ids:
        return {}
    found: dict[UUID, set[str]] = defaultdict(set)
    rows = assignment_rows(viewer.person_id, viewer.today, athlete_ids, clearance=NEEDED_CLEARANCE)
    is_adult = is_adult_on_day(viewer)
    for athlete_id, is_current, is_checked, is_training_there in rows:
        if is_adult:
            found[athlete_id].add("now" if is_checked and is_current else "ended")
        elif not is_training_there:
            found[athlete_id].add("now" if is_current else "ended")
    return found


def _coach_role(viewer: Viewer, standing: set[str]) -> ActingRole:
    if "now" in standing:
        return ActingRole.COACH if is_adult_on_day(viewer) else ActingRole.COACH_MINOR
    return ActingRole.COACH_ENDED if "ended" in standing else ActingRole.COACH_OTHER


def assigned_group_ids(viewer: Viewer) -> list[UUID]:
    """The groups that a coach is assigned to today."""
    return list(
        CoachAssignment.objects.filter(in_force(viewer.today), coach=viewer.person_id).values_list(
            "group_id", flat=True
        )
    )
