"""Reads of the club's staff: who does what, which groups they work with, whose checks are in date."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Q

from athletes.circumstances.relations import NEEDED_CLEARANCE
from athletes.core import ages
from athletes.models import Clearance, CoachAssignment, EventGroup, PeopleStep, Person, StaffRole
from athletes.models.accounts import Role
from athletes.selectors.groups import Stay
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import NotFound


@dataclass(frozen=True)
class StaffLine:
    """Somebody who does something for the club: roles and groups of today, the check that counts.

    `check_until` is the last day of the latest background check, nothing without one; `is_minor` as for helpers.
    """

    person: Person
    roles: tuple[str, ...]
    groups: tuple[str, ...]
    check_until: date | None
    is_minor: bool
    has_account: bool
    today: date

    @property
    def counts_as_adult(self) -> bool:
        """For the club's rule of adults: 18 or over, with a check in date."""
        return not self.is_minor and self.check_until is not None and self.check_until >= self.today

    @property
    def needs_check(self) -> bool:
        return Role.COACH.label in self.roles and not self.is_minor and not self.counts_as_adult


@dataclass(frozen=True)
class StaffPage:
    """One person of the staff: roles with their codes, stays in groups, checks newest first, what else there is."""

    line: StaffLine
    roles: tuple[tuple[str, str], ...]
    stays: tuple[tuple[Stay, EventGroup], ...]
    checks: tuple[Clearance, ...]
    groups: tuple[EventGroup, ...]
    steps: tuple[PeopleStep, ...]


def staff(viewer: Viewer) -> list[StaffLine]:
    """Everybody with a role of today, by name; a fixed number of queries."""
    viewer.must_be(Role.ADMIN)
    rows = StaffRole.objects.filter(in_force(viewer.today), club=viewer.club_id).select_related("person__account")
    roles: dict[UUID, list[str]] = defaultdict(list)
    people: dict[UUID, Person] = {}
    for row in rows:
        people[row.person_id] = row.person
        roles[row.person_id].append(row.role)
    return _lines(viewer, people.values(), roles)


def staff_page(viewer: Viewer, person_id: UUID) -> StaffPage:
    """One person of the club, whose roles, groups and checks an admin sets; absent and not yours are the same."""
    viewer.must_be(Role.ADMIN)
    people = Person.objects.filter(pk=person_id, club=viewer.club_id, left_on=None).select_related("account")
    person = people.first()
    if person is None:
        raise NotFound()
    held = StaffRole.objects.filter(in_force(viewer.today), person=person).values_list("role", flat=True)
    now_or_coming = Q(last_day__isnull=True) | Q(last_day__gte=viewer.today)
    assigned = CoachAssignment.objects.filter(now_or_coming, coach=person).select_related("group")
    steps = PeopleStep.objects.filter(club=viewer.club_id, what=PeopleStep.What.STAFF).select_related("by")
    [line] = _lines(viewer, [person], {person.pk: list(held)})
    return StaffPage(
        line=line,
        roles=tuple((role, str(Role(role).label)) for role in Role.values if role in held),
        stays=tuple(
            (Stay(person, row.first_day, row.last_day, is_coming=row.first_day > viewer.today), row.group)
            for row in assigned.order_by("group__order", "first_day")
        ),
        checks=tuple(Clearance.objects.filter(coach=person).order_by("-expires_on")),
        groups=tuple(EventGroup.objects.filter(club=viewer.club_id)),
        steps=tuple(one for one in steps[:40] if _is_about(one, person))[:5],
    )


def _is_about(step: PeopleStep, person: Person) -> bool:
    """Whether a row of a step is this person's."""
    return any(
        str(person.pk) in (row or {}).values() for change in step.changes for row in (change["before"], change["after"])
    )


def _lines(viewer: Viewer, people: Iterable[Person], roles: dict[UUID, list[str]]) -> list[StaffLine]:
    ids = [person.pk for person in people]
    groups: dict[UUID, list[str]] = defaultdict(list)
    assigned = CoachAssignment.objects.filter(in_force(viewer.today), coach__in=ids).order_by("group__order")
    for coach_id, name in assigned.values_list("coach_id", "group__name"):
        groups[coach_id].append(name)
    checks = Clearance.objects.filter(coach__in=ids, kind=NEEDED_CLEARANCE, seen_on__lte=viewer.today)
    until = dict(checks.order_by("expires_on").values_list("coach_id", "expires_on"))
    lines = [
        StaffLine(
            person=person,
            roles=tuple(str(Role(role).label) for role in Role.values if role in roles[person.pk]),
            groups=tuple(dict.fromkeys(groups[person.pk])),
            check_until=until.get(person.pk),
            is_minor=person.birth_date is None or ages.is_minor(ages.age_on(person.birth_date, viewer.today)),
            has_account=hasattr(person, "account"),
            today=viewer.today,
        )
        for person in people
    ]
    return sorted(lines, key=lambda one: (one.person.family_name, one.person.given_name))
