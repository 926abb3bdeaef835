"""Who could take a training session over: who is free then, whose check is in date, and whether adults stay enough."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.circumstances.relations import NEEDED_CLEARANCE
from athletes.models import Clearance, Person, StaffRole
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.models import SessionCoach, TrainingSession
from sessions.selectors.planned_people import planned_people
from sessions.selectors.planned_places import PlannedCoach, planned_coaches
from sessions.selectors.staffing import Staff, adults_among, staff_of


@dataclass(frozen=True)
class Stand:
    """Somebody who could take it over; `check_until` is the last day of the check, `leads` what they lead then."""

    coach: Person
    is_free: bool
    leads_then: bool
    may_lead: bool
    check_until: date | None
    adults_then: int

    @property
    def can(self) -> bool:
        return self.may_lead and not self.leads_then


@dataclass(frozen=True)
class Cover:
    """Who leads it now, and the others of the club, those who can and are free first."""

    staff: tuple[Staff, ...]
    others: tuple[Stand, ...]
    adults_required: int


def cover_of(*, viewer: Viewer, training_session: TrainingSession) -> Cover:
    """For whoever hands the session over; a fixed number of queries."""
    zone = ZoneInfo(viewer.club.timezone)
    day = training_session.starts_at.astimezone(zone).date()
    week = IsoWeek(monday_of(day), zone)
    staff = staff_of(session_ids=[training_session.pk], day=day).get(training_session.pk, ())
    coaches = StaffRole.objects.filter(in_force(day), club=viewer.club_id, role=Role.COACH).values_list(
        "person_id", flat=True
    )
    planned = planned_coaches(viewer=viewer, week=week, coach_ids=set(coaches) - {one.person.pk for one in staff})
    checks = _checks(planned, day)
    busy = _busy(viewer, training_session, planned)
    groups = {group.pk for group in training_session.groups.all()}
    people = planned_people(viewer=viewer, week=week)
    minors = any(people.has_minors(group, week) for group in groups) or not groups
    others = [
        Stand(
            coach=one.coach,
            is_free=_is_free(one, training_session),
            leads_then=one.coach.pk in busy,
            may_lead=not one.is_helper and (one.coach.pk in checks or not minors),
            check_until=checks.get(one.coach.pk),
            adults_then=adults_among(staff) - 1 + (one.coach.pk in checks and not one.is_helper),
        )
        for one in planned.values()
    ]
    return Cover(
        staff, tuple(sorted(others, key=lambda one: (not one.can, not one.is_free))), viewer.club.adults_required
    )


def _checks(coaches: Collection[UUID], day: date) -> dict[UUID, date]:
    rows = Clearance.objects.filter(
        coach__in=coaches, kind=NEEDED_CLEARANCE, seen_on__lte=day, expires_on__gte=day
    ).order_by("expires_on")
    return dict(rows.values_list("coach_id", "expires_on"))


def _busy(viewer: Viewer, training_session: TrainingSession, coaches: Collection[UUID]) -> set[UUID]:
    rows = SessionCoach.objects.filter(
        club=viewer.club_id,
        coach__in=coaches,
        taken_off_at=None,
        training_session__state=TrainingSession.State.PUBLISHED,
        training_session__starts_at__lt=training_session.ends_at,
        training_session__ends_at__gt=training_session.starts_at,
    )
    return set(rows.values_list("coach_id", flat=True))


def _is_free(planned: PlannedCoach, training_session: TrainingSession) -> bool:
    return any(
        begins <= training_session.starts_at and training_session.ends_at <= ends for begins, ends in planned.available
    )
