"""Coaches, helpers and officers of the club: added, given roles and groups, their checks entered when seen."""

from datetime import date, timedelta
from uuid import UUID

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from athletes.circumstances.relations import NEEDED_CLEARANCE
from athletes.core import ages
from athletes.models import (
    Clearance,
    CoachAssignment,
    EventGroup,
    GroupMembership,
    PeopleStep,
    Person,
    StaffRole,
)
from athletes.models.accounts import Role
from athletes.services.rules import confirmed_first
from athletes.services.steps import Step
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import Conflict, NotFound, Refused

A_DAY = timedelta(days=1)
LONGEST_CHECK = timedelta(days=365 * 6)
"""A check that runs longer is taken for a slip of the keys (common practice, no source)."""


@transaction.atomic
def add_staff(
    *, viewer: Viewer, given_name: str, family_name: str, birth_date: date | None, role: str, phone: str = ""
) -> Person:
    """Somebody new who does something for the club, in one role to begin with. The same name and birth date again is
    refused: that person is there already."""
    viewer.must_be(Role.ADMIN)
    confirmed_first(viewer.club)
    same = Person.objects.filter(
        club=viewer.club_id, given_name__iexact=given_name.strip(), family_name__iexact=family_name.strip(),
        birth_date=birth_date, left_on=None,
    )  # fmt: skip
    if same.exists():
        raise Conflict("ALREADY_DONE", _("This person is here already: give them a role from the list."))
    person = Person.objects.create(
        club_id=viewer.club_id, given_name=given_name.strip(), family_name=family_name.strip(),
        birth_date=birth_date, phone=phone.strip(),
    )  # fmt: skip
    step = Step(viewer, PeopleStep.What.STAFF)
    _give(step, viewer, person, role)
    step.keep()
    return person


@transaction.atomic
def give_role(*, viewer: Viewer, person_id: UUID, role: str) -> PeopleStep | None:
    """Somebody of the club has a role from today on. Refused for who is too young for it, or barred by another role."""
    person = get_person(viewer, person_id)
    step = Step(viewer, PeopleStep.What.STAFF)
    _give(step, viewer, person, role)
    return step.keep()


@transaction.atomic
def end_role(*, viewer: Viewer, person_id: UUID, role: str) -> PeopleStep | None:
    """A role ends with yesterday. The last admin stays: somebody has to be able to give roles again."""
    person = get_person(viewer, person_id)
    held = StaffRole.objects.select_for_update().filter(in_force(viewer.today), club=viewer.club_id, role=role)
    rows = list(held)
    if role == Role.ADMIN and all(row.person_id == person.pk for row in rows):
        raise Refused("LAST_ADMIN", _("The last admin stays. Make somebody else an admin first. Nothing was changed."))
    step = Step(viewer, PeopleStep.What.STAFF)
    for row in rows:
        if row.person_id == person.pk:
            step.end(row, viewer.today - A_DAY)
    return step.keep()


@transaction.atomic
def assign_coach(
    *, viewer: Viewer, person_id: UUID, group_id: UUID, first_day: date, last_day: date | None = None
) -> PeopleStep | None:
    """A coach or helper works with a group from a first to a last day; for cover of one day both are that day."""
    coach = get_person(viewer, person_id)
    group = EventGroup.objects.filter(pk=group_id, club=viewer.club_id).first()
    if group is None:
        raise NotFound()
    if last_day is not None and last_day < first_day:
        raise Refused("CHECK_FIELDS", _("The last day is before the first. Nothing was changed."))
    may_work_with(viewer=viewer, coach=coach, group=group, day=first_day)
    rows = CoachAssignment.objects.select_for_update().filter(coach=coach, group=group)
    if any(row.first_day <= first_day and _reaches(row, last_day) for row in rows):
        return None
    step = Step(viewer, PeopleStep.What.STAFF)
    step.add(CoachAssignment(club_id=viewer.club_id, coach=coach, group=group, first_day=first_day, last_day=last_day))
    return step.keep()


@transaction.atomic
def end_assignment(*, viewer: Viewer, person_id: UUID, group_id: UUID, last_day: date) -> PeopleStep | None:
    """A coach or helper works with a group up to and with a day."""
    coach = get_person(viewer, person_id)
    step = Step(viewer, PeopleStep.What.STAFF)
    rows = CoachAssignment.objects.select_for_update().filter(coach=coach, group=group_id, club=viewer.club_id)
    for row in rows:
        if _reaches(row, None) or (row.last_day is not None and row.last_day > last_day):
            step.end(row, last_day)
    return step.keep()


@transaction.atomic
def enter_check(*, viewer: Viewer, person_id: UUID, kind: str, seen_on: date, expires_on: date) -> PeopleStep | None:
    """A check of a coach that the admin has seen. Nobody enters one's own; the same again changes nothing."""
    coach = get_person(viewer, person_id)
    if coach.pk == viewer.person_id:
        raise Refused("OWN_CASE", _("Another admin enters your own check. Nothing was kept."))
    if seen_on > viewer.today or not seen_on < expires_on <= seen_on + LONGEST_CHECK:
        text = _("A check is seen today or before, and runs out after that, within six years. Nothing was kept.")
        raise Refused("CHECK_FIELDS", text)
    values = {"coach": coach, "kind": kind, "seen_on": seen_on, "expires_on": expires_on}
    if Clearance.objects.filter(club=viewer.club_id, **values).exists():
        return None
    step = Step(viewer, PeopleStep.What.STAFF)
    step.add(Clearance(club_id=viewer.club_id, **values))
    return step.keep()


def may_work_with(*, viewer: Viewer, coach: Person, group: EventGroup, day: date, as_coach: bool = False) -> None:
    """Raises Refused, saying what to do, where somebody may not work with a group on a day.

    A coach needs the role, and in a group with minors a check in date. Under 18 one may help, `as_coach` not, and never
    in a group in which one trains.
    """
    if not StaffRole.objects.filter(in_force(max(day, viewer.today)), person=coach, role=Role.COACH).exists():
        raise Refused("NO_ROLE", _("First give this person the role of coach. Nothing was changed."))
    if coach.birth_date is None or ages.is_minor(ages.age_on(coach.birth_date, day)):
        _may_help(coach, group, day, as_coach=as_coach)
    elif has_minors(viewer=viewer, group=group, day=day) and not _is_checked(coach, day):
        text = _("%(name)s has no background check in date on %(day)s: enter one first. Nothing was changed.")
        raise Refused("NO_CHECK", text % {"name": coach.full_name, "day": date_format(day, "j M Y")})


def has_minors(*, viewer: Viewer, group: EventGroup, day: date) -> bool:
    """Whether somebody of a group is under 18, or of unknown age, on a day."""
    born = GroupMembership.objects.filter(in_force(day), club=viewer.club_id, group=group)
    dates = born.values_list("athlete__birth_date", flat=True)
    return any(one is None or ages.is_minor(ages.age_on(one, day)) for one in dates)


def get_person(viewer: Viewer, person_id: UUID) -> Person:
    """Somebody of the admin's club who has not left; absent and not yours are the same."""
    viewer.must_be(Role.ADMIN)
    person = Person.objects.filter(pk=person_id, club=viewer.club_id, left_on=None).first()
    if person is None:
        raise NotFound()
    return person


def _give(step: Step, viewer: Viewer, person: Person, role: str) -> None:
    held = set(
        StaffRole.objects.select_for_update()
        .filter(in_force(viewer.today), person=person)
        .values_list("role", flat=True)
    )
    if role in held:
        return
    is_adult = person.birth_date is not None and not ages.is_minor(ages.age_on(person.birth_date, viewer.today))
    if role != Role.COACH and not is_adult:
        text = _("This role is for adults: give the birth date first, or choose another person. Nothing was changed.")
        raise Refused("TOO_YOUNG", text)
    coaches = {Role.COACH, Role.HEAD_COACH}
    if (role == Role.WELFARE and held & coaches) or (role in coaches and Role.WELFARE in held):
        raise Refused("WELFARE_APART", _("The welfare lead is an adult who does not coach. Nothing was changed."))
    step.add(StaffRole(club_id=viewer.club_id, person=person, role=role, first_day=viewer.today))


def _may_help(coach: Person, group: EventGroup, day: date, *, as_coach: bool) -> None:
    if as_coach or coach.birth_date is None:
        text = _("A group is handed to an adult: give the birth date, or choose another coach. Nothing was changed.")
        raise Refused("TOO_YOUNG", text)
    if GroupMembership.objects.filter(in_force(day), athlete=coach, group=group).exists():
        text = _("A helper under 18 never helps in a group in which they train. Nothing was changed.")
        raise Refused("TRAINS_THERE", text)


def _is_checked(coach: Person, day: date) -> bool:
    return Clearance.objects.filter(coach=coach, kind=NEEDED_CLEARANCE, seen_on__lte=day, expires_on__gte=day).exists()


def _reaches(row: CoachAssignment, last_day: date | None) -> bool:
    """Whether a row goes on at least as long."""
    return row.last_day is None or (last_day is not None and row.last_day >= last_day)
