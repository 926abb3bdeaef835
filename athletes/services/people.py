"""Athletes come, leave, come back; visitors on trial; guardians linked to several children."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import date, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from athletes.access import get_athlete
from athletes.models import (
    GroupMembership,
    Guardianship,
    Membership,
    PeopleStep,
    Person,
    Restriction,
    SquadMembership,
)
from athletes.models.accounts import Role
from athletes.models.permissions import Purpose
from athletes.services.rules import confirmed_first
from athletes.services.staff import get_person
from athletes.services.steps import Step
from athletes.services.stops import end_yeses_of
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import Conflict, NotFound, Refused

A_DAY = timedelta(days=1)
TRIAL_AT_MOST = timedelta(days=42)
"""Six weeks: whoever stays longer joins (common practice, no source)."""


@transaction.atomic
def add_athlete(
    *,
    viewer: Viewer,
    given_name: str,
    family_name: str,
    birth_date: date | None,
    first_day: date,
    notice_shown: bool,
    trial_until: date | None = None,
) -> Person:
    """A new athlete, or with `trial_until` a visitor of whom name, contact and presence are kept and nothing else.

    Raises Refused before the notice was shown, Conflict where somebody of this name and birth date is here.
    """
    viewer.must_be(Role.ADMIN)
    confirmed_first(viewer.club)
    _notice_first(shown=notice_shown)
    _not_twice(viewer, given_name, family_name, birth_date)
    person = Person.objects.create(
        club_id=viewer.club_id, given_name=given_name.strip(), family_name=family_name.strip(), birth_date=birth_date
    )
    step = Step(viewer, PeopleStep.What.MEMBER)
    _not_too_far(viewer, first_day)
    _join(step, viewer, person.pk, first_day, trial_until)
    step.keep()
    return person


@transaction.atomic
def leave_club(*, viewer: Viewer, athlete_id: UUID, last_day: date) -> PeopleStep | None:
    """An athlete leaves, or goes to another club: membership, squad and groups end with a day, and so does a trial. Up
    to that day the family is told so and offered a copy to take along; what is kept goes 30 days after it."""
    person = get_person(viewer, athlete_id)
    if not viewer.today - timedelta(days=366) <= last_day <= viewer.today + timedelta(days=366):
        raise Refused("CHECK_FIELDS", _("This day is too far away. Nothing was changed."))
    step = Step(viewer, PeopleStep.What.MEMBER)
    for model in (Membership, GroupMembership, SquadMembership):
        for row in model.objects.select_for_update().filter(athlete=person):
            step.end(row, last_day)
    return step.keep()


@transaction.atomic
def come_back(*, viewer: Viewer, athlete_id: UUID, first_day: date, notice_shown: bool) -> PeopleStep | None:
    """Somebody who left is a member again from a day on, and is asked anew whatever was allowed before."""
    person = get_person(viewer, athlete_id)
    confirmed_first(viewer.club)
    _notice_first(shown=notice_shown)
    _not_too_far(viewer, first_day)
    step = Step(viewer, PeopleStep.What.MEMBER)
    bring_back(step, {person.pk: first_day})
    return step.keep()


def bring_back(step: Step, first_days: Mapping[UUID, date]) -> None:
    """People who left are members again, each from a day on, in the caller's transaction; every yes of theirs to an
    optional purpose ends. The club has shown them its notice anew.

    Raises NotFound where somebody never was a member, Conflict where somebody is one on that day.
    """
    last_days: dict[UUID, list[date | None]] = defaultdict(list)
    rows = Membership.objects.select_for_update().filter(club=step.viewer.club_id, athlete__in=first_days)
    for athlete_id, last_day in rows.values_list("athlete_id", "last_day"):
        last_days[athlete_id].append(last_day)
    if last_days.keys() != first_days.keys():
        raise NotFound()
    for athlete_id, first_day in first_days.items():
        if any(last_day is None or last_day >= first_day for last_day in last_days[athlete_id]):
            raise Conflict("ALREADY_DONE", _("This athlete is a member on that day. Nothing was changed."))
    end_yeses_of(club_id=step.viewer.club_id, athletes=list(first_days))
    for athlete_id, first_day in first_days.items():
        _join(step, step.viewer, athlete_id, first_day, None)


@transaction.atomic
def end_trial(*, viewer: Viewer, athlete_id: UUID, first_day: date) -> PeopleStep | None:
    """A visitor joins: from a day on a member as others are."""
    person = get_athlete_for_admin(viewer, athlete_id)
    confirmed_first(viewer.club)
    step = Step(viewer, PeopleStep.What.MEMBER)
    let_join(step, person.pk, first_day)
    return step.keep()


def let_join(step: Step, athlete_id: UUID, first_day: date) -> None:
    """A visitor's trial ends the day before, with its restriction, and membership begins; in the caller's transaction.

    Raises Conflict where nobody is on trial or joining is set already, Refused for a day that is not after the trial's
    first.
    """
    on_trial = Membership.objects.select_for_update().filter(in_force(step.viewer.today), athlete=athlete_id)
    trial = on_trial.filter(is_trial=True).first()
    if trial is None:
        raise Conflict("ALREADY_DONE", _("This athlete is not on trial. Nothing was changed."))
    if Membership.objects.filter(athlete=athlete_id, is_trial=False, first_day__gt=trial.first_day).exists():
        raise Conflict("ALREADY_DONE", _("The day of joining is set already. Nothing was changed: undo that first."))
    if first_day <= trial.first_day:
        raise Refused("CHECK_FIELDS", _("Joining comes after the first day of the trial. Nothing was changed."))
    step.end(trial, first_day - A_DAY)
    for row in Restriction.objects.select_for_update().filter(
        athlete=athlete_id, purpose=Purpose.FEEDBACK, first_day=trial.first_day
    ):
        step.end(row, first_day - A_DAY)
    dated = {"first_day": first_day, "notice_shown_on": trial.notice_shown_on}
    step.add(Membership(club_id=step.viewer.club_id, athlete_id=athlete_id, **dated))


@transaction.atomic
def link_guardian(
    *, viewer: Viewer, athlete_id: UUID, guardian_id: UUID | None, given_name: str = "", family_name: str = "",
    phone: str = "", email: str = "",
) -> PeopleStep | None:  # fmt: skip
    """Link a guardian who is here already, or a new one, with authority not yet checked. The same again changes
    nothing."""
    athlete = get_athlete_for_admin(viewer, athlete_id)
    confirmed_first(viewer.club)
    if guardian_id is not None:
        guardian = get_person(viewer, guardian_id)
    else:
        guardian = Person.objects.create(
            club_id=viewer.club_id, given_name=given_name.strip(), family_name=family_name.strip(),
            phone=phone.strip(), email=email.strip(),
        )  # fmt: skip
    if guardian.pk == athlete.pk:
        raise Refused("CHECK_FIELDS", _("Nobody is one's own guardian. Nothing was changed."))
    rows = Guardianship.objects.select_for_update().filter(in_force(viewer.today), athlete=athlete, guardian=guardian)
    if rows.exists():
        return None
    step = Step(viewer, PeopleStep.What.GUARDIAN)
    step.add(Guardianship(club_id=viewer.club_id, athlete=athlete, guardian=guardian, first_day=viewer.today))
    return step.keep()


def get_athlete_for_admin(viewer: Viewer, athlete_id: UUID) -> Person:
    """One athlete of the admin's club whose record may be used; absent and not yours are the same."""
    viewer.must_be(Role.ADMIN)
    return get_athlete(viewer, athlete_id)


def _not_too_far(viewer: Viewer, first_day: date) -> None:
    if abs(first_day - viewer.today) > timedelta(days=366):
        raise Refused("CHECK_FIELDS", _("The first day is too far away. Nothing was kept."))


def _join(step: Step, viewer: Viewer, athlete_id: UUID, first_day: date, trial_until: date | None) -> None:
    if trial_until is not None and not first_day <= trial_until <= first_day + TRIAL_AT_MOST:
        text = _("A trial ends within six weeks of its first day. Nothing was kept.")
        raise Refused("CHECK_FIELDS", text)
    dated = {"club_id": viewer.club_id, "athlete_id": athlete_id, "first_day": first_day, "last_day": trial_until}
    is_trial = trial_until is not None
    step.add(Membership(notice_shown_on=min(first_day, viewer.today), is_trial=is_trial, **dated))
    if is_trial:
        step.add(Restriction(purpose=Purpose.FEEDBACK, **dated))


def _notice_first(*, shown: bool) -> None:
    if not shown:
        text = _("First give the family the notice of what is kept and why, then tick it. Nothing was kept.")
        raise Refused("NOTICE_FIRST", text)


def _not_twice(viewer: Viewer, given_name: str, family_name: str, birth_date: date | None) -> None:
    same = Person.objects.filter(
        Q(birth_date=birth_date) if birth_date else Q(),
        club=viewer.club_id, given_name__iexact=given_name.strip(), family_name__iexact=family_name.strip(),
        left_on=None,
    )  # fmt: skip
    if same.exists():
        text = _("Somebody of this name is here already. Look on the roster; two people of one name need birth dates.")
        raise Conflict("ALREADY_DONE", text)
