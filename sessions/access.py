"""The only door from a viewer to training sessions: the club's scope, the role's relation, then the one decision."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from athletes.access import Answers, answers_for, athletes_and_answers, athletes_visible_to
from athletes.circumstances.relations import (
    adult_coaches_of,
    assigned_group_ids,
    candidates_of,
    is_adult_on_day,
    role_of_coach_on,
)
from athletes.core.permissions import decide
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Club, CoachAssignment, EventGroup, Person, StaffRole
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force
from sessions.models import (
    Proposal,
    Rehearsal,
    RosterLeaver,
    SeasonPlan,
    SessionAthlete,
    SessionCoach,
    TrainingSession,
    Venue,
    WeekPlan,
)
from sessions.models.season import Kind
from teamtrack.common.composed import Composed, Given
from teamtrack.common.errors import NotFound

LATE_SENDING = timedelta(days=14)
_ON_LIST = Composed(
    lambda: SessionCoach.objects.select_related("training_session").filter(
        coach=Given("coach", Person._meta.pk),
        training_session=Given("session", TrainingSession._meta.pk),
        training_session__club=Given("club", Club._meta.pk),
    )
)
_ON_ROSTER = Composed(
    lambda: SessionAthlete.objects.select_related("training_session").filter(
        athlete=Given("athlete", Person._meta.pk),
        training_session=Given("session", TrainingSession._meta.pk),
        training_session__club=Given("club", Club._meta.pk),
    )
)
_WEEK = Composed(
    lambda: WeekPlan.objects.select_related("changed_by", "published_by").filter(
        club=Given("club", Club._meta.pk), monday=Given("monday", WeekPlan._meta.get_field("monday"))
    )
)


@dataclass(frozen=True)
class Part:
    """The part that a viewer has in one training session: on its list of coaches, or on its roster.

    `may_read` is false for who was taken off it, and for a stand-in once the day is over, who may still send for 14
    days after it. `beside`: people whom its record is about and who need not be on the roster any more.
    """

    training_session: TrainingSession
    viewer: Viewer
    acting_as: ActingRole
    may_read: bool = True
    beside: tuple[Person, ...] = ()

    @property
    def is_coach(self) -> bool:
        return self.acting_as is not ActingRole.ATHLETE

    def answers(self, athletes: list[Person], purposes: list[str]) -> Answers:
        """The decision for people on the roster, in the part's role; an athlete's entry is kept only where a coach of
        the athlete's groups could use its purpose."""
        if self.is_coach:
            return answers_for(viewer=self.viewer, athletes=athletes, purposes=purposes, acting_as=self.acting_as)
        readers = adult_coaches_of(athlete_ids=[person.pk for person in athletes], day=self.viewer.today)
        return answers_for(
            viewer=self.viewer, athletes=athletes, purposes=purposes, acting_as=ActingRole.COACH, readers=readers
        )

    def answers_to_reader(self, athletes: Collection[Person], purposes: Collection[str]) -> Answers:
        """The decision for reading: on the session's own day its list says in which role a coach or helper reads, on
        other days the coach's assignments say it; an athlete reads about oneself."""
        role = Role.COACH if self.is_coach else Role.ATHLETE
        acting_as = None if self.is_coach and not self.is_its_day else self.acting_as
        return answers_for(
            viewer=replace(self.viewer, role=role), athletes=athletes, purposes=purposes, acting_as=acting_as
        )

    @property
    def day(self) -> date:
        """The training session's day in the club's zone."""
        return _day_of(self.viewer, self.training_session)

    @property
    def is_its_day(self) -> bool:
        return self.day == self.viewer.today


def training_sessions_visible_to(viewer: Viewer) -> QuerySet[TrainingSession]:
    """The published training sessions that a viewer may know of, in the role of the request."""
    rows = TrainingSession.objects.filter(club=viewer.club_id)
    if viewer.role == Role.HEAD_COACH:
        return rows
    if viewer.role == Role.COACH:
        led = Q(pk__in=_sessions_led_by(viewer), starts_at__gte=_begin_of_today(viewer))
        mine = led | Q(groups__in=assigned_group_ids(viewer))
        return rows.filter(mine).distinct()
    if viewer.role in (Role.ATHLETE, Role.GUARDIAN):
        purpose = "plan" if viewer.role == Role.GUARDIAN else "record"
        people = [person.pk for person in athletes_visible_to(viewer, purpose)]
        return rows.filter(session_athletes__athlete__in=people).distinct()
    return rows.none()


def get_training_session(viewer: Viewer, session_id: UUID) -> TrainingSession:
    """One training session that the viewer may know of; absent and not yours are the same."""
    found = training_sessions_visible_to(viewer).filter(pk=session_id).select_related("venue").first()
    if found is None:
        raise NotFound()
    return found


def get_part(viewer: Viewer, session_id: UUID) -> Part:
    """The viewer's part in a training session for recording: a coach if on its list, else an athlete on its roster,
    else somebody who was taken off the list or the roster not long ago."""
    here = {"session": session_id, "club": viewer.club_id}
    coach = _ON_LIST.first(**here, coach=viewer.person_id)
    is_on_list = coach is not None and coach.taken_off_at is None and Role.COACH in viewer.roles
    if is_on_list and not _has_ended(viewer, coach.training_session):
        return _part_of_coach(viewer, coach.training_session, may_read=True)
    athlete = _ON_ROSTER.first(**here, athlete=viewer.person_id) if Role.ATHLETE in viewer.roles else None
    if athlete is not None:
        return Part(athlete.training_session, viewer, ActingRole.ATHLETE)
    if coach is not None and viewer.today <= _day_of(viewer, coach.training_session) + LATE_SENDING:
        return _part_of_coach(viewer, coach.training_session, may_read=False)
    left = _left_roster(viewer, session_id) if Role.ATHLETE in viewer.roles else None
    if left is not None and viewer.today <= _day_of(viewer, left) + LATE_SENDING:
        return Part(left, viewer, ActingRole.ATHLETE, may_read=False)
    raise NotFound()


def _has_ended(viewer: Viewer, training_session: TrainingSession) -> bool:
    """Whether a coach's or helper's part ended with the day: a stand-in's does, and that of whoever no longer has a
    group of anybody on the roster."""
    if _day_of(viewer, training_session) >= viewer.today:
        return False
    on_roster = SessionAthlete.objects.filter(training_session=training_session).values("athlete_id")
    held = CoachAssignment.objects.filter(in_force(viewer.today), coach=viewer.person_id)
    trains = held.filter(in_force(viewer.today, "group__memberships__"), group__memberships__athlete__in=on_roster)
    return not (held.filter(group__training_sessions=training_session).exists() or trains.exists())


def _begin_of_today(viewer: Viewer) -> datetime:
    return datetime.combine(viewer.today, time(), ZoneInfo(viewer.club.timezone))


def _left_roster(viewer: Viewer, session_id: UUID) -> TrainingSession | None:
    """The training session, where the viewer was taken off its roster."""
    rows = RosterLeaver.objects.filter(
        training_session=session_id, training_session__club=viewer.club_id, athlete=viewer.person_id
    )
    found = rows.select_related("training_session").first()
    return found.training_session if found else None


def _part_of_coach(viewer: Viewer, training_session: TrainingSession, *, may_read: bool) -> Part:
    role = role_of_coach_on(viewer=viewer, day=_day_of(viewer, training_session))
    return Part(training_session, viewer, role, may_read=may_read)


def _day_of(viewer: Viewer, training_session: TrainingSession) -> date:
    return training_session.starts_at.astimezone(ZoneInfo(viewer.club.timezone)).date()


def get_led_session(viewer: Viewer, session_id: UUID) -> Part:
    """The part of a coach or helper who is on the training session's list now."""
    part = get_part(viewer, session_id)
    if not (part.is_coach and part.may_read):
        raise NotFound()
    return part


MAY_OPEN_IN_EMERGENCY = (ActingRole.COACH, ActingRole.ADMIN, ActingRole.WELFARE)


def get_athlete_in_emergency(viewer: Viewer, athlete_id: UUID) -> tuple[Person, Answers]:
    """One athlete whose pain notes the viewer may open in an emergency: an adult coach of today's groups or of a
    session of today, an admin or a welfare lead, who may know of the athlete; with the answers about both."""
    viewer.must_be(Role.COACH, Role.ADMIN, Role.WELFARE)
    athlete = Person.objects.filter(candidates_of(viewer), club=viewer.club_id, pk=athlete_id).distinct().first()
    if athlete is None or not is_adult_on_day(viewer):
        raise NotFound()
    asked: dict[str, Any] = {"viewer": viewer, "athletes": [athlete], "purposes": ["record", "health"]}
    answers = answers_for(**asked)
    if viewer.role == Role.COACH and answers.found.roles[athlete_id] is not ActingRole.COACH:
        answers = answers_for(**asked, acting_as=_role_beside(viewer, athlete_id))
    if answers.found.roles[athlete_id] not in MAY_OPEN_IN_EMERGENCY or not answers.may(athlete_id, "record"):
        raise NotFound()
    return athlete, answers


def athletes_in_emergency(viewer: Viewer) -> list[Person]:
    """Those whose pain notes the viewer may open in an emergency, by name; a fixed number of queries."""
    viewer.must_be(Role.COACH, Role.ADMIN, Role.WELFARE)
    if not is_adult_on_day(viewer):
        return []
    people, answers = athletes_and_answers(viewer, ("record",))
    own = [one for one in people if answers.found.roles[one.pk] in MAY_OPEN_IN_EMERGENCY]
    if viewer.role != Role.COACH or role_of_coach_on(viewer=viewer, day=viewer.today) is not ActingRole.COACH:
        return own
    here = Person.objects.filter(club=viewer.club_id, session_athletes__training_session__in=_led_today(viewer))
    beside = list(here.exclude(pk__in=[one.pk for one in own]).distinct())
    allowed = answers_for(viewer=viewer, athletes=beside, purposes=["record"], acting_as=ActingRole.COACH)
    found = [*own, *(one for one in beside if allowed.may(one.pk, "record"))]
    return sorted(found, key=lambda one: (one.family_name, one.given_name, one.pk))


def _led_today(viewer: Viewer) -> QuerySet[SessionCoach]:
    """The sessions of today on whose list a coach is."""
    begin = _begin_of_today(viewer)
    led = SessionCoach.objects.filter(
        coach=viewer.person_id, taken_off_at=None,
        training_session__starts_at__gte=begin, training_session__starts_at__lt=begin + timedelta(days=1),
    )  # fmt: skip
    return led.values("training_session_id")


def _role_beside(viewer: Viewer, athlete_id: UUID) -> ActingRole:
    """As whom a coach acts who is on the list of a session of today that has the athlete on its roster."""
    on_roster = SessionAthlete.objects.filter(athlete=athlete_id, training_session__in=_led_today(viewer))
    return role_of_coach_on(viewer=viewer, day=viewer.today) if on_roster.exists() else ActingRole.COACH_OTHER


def answers_in_emergency(viewer: Viewer, athlete: Person, *, cannot_answer: bool) -> Answers:
    """The decision about health in the role of emergency access, where somebody says whether the athlete can answer."""
    answers = answers_for(viewer=viewer, athletes=[athlete], purposes=["health"], acting_as=ActingRole.EMERGENCY_ACCESS)
    facts = replace(answers.found.facts(athlete.pk, "health"), athlete_incapable=cannot_answer)
    return Answers(answers.found, {(athlete.pk, "health"): decide(facts)})


def get_session_to_run(viewer: Viewer, session_id: UUID) -> TrainingSession:
    """One training session that the viewer may call off or hand to another coach: a head coach any of the club, an
    adult coach those on whose list they are."""
    if viewer.role == Role.HEAD_COACH:
        return get_training_session(viewer, session_id)
    part = get_led_session(viewer, session_id) if viewer.role == Role.COACH else None
    if part is None or part.acting_as is ActingRole.COACH_MINOR:
        raise NotFound()
    return part.training_session


def meets_planned_by(viewer: Viewer) -> QuerySet[TrainingSession]:
    """The meets that the viewer plans: a head coach all, a coach those of the groups of today's assignments."""
    rows = TrainingSession.objects.filter(club=viewer.club_id, kind=Kind.MEET)
    if viewer.role == Role.HEAD_COACH:
        return rows
    return rows.filter(groups__in=groups_set_by(viewer)).distinct()


def get_meet(viewer: Viewer, session_id: UUID) -> TrainingSession:
    """One meet that the viewer plans; absent and not yours are the same."""
    found = meets_planned_by(viewer).filter(pk=session_id).select_related("venue", "meet").first()
    if found is None:
        raise NotFound()
    return found


def weeks_visible_to(viewer: Viewer) -> QuerySet[WeekPlan]:
    """The drafts of weeks: the head coach's alone; coaches read what is published."""
    rows = WeekPlan.objects.filter(club=viewer.club_id)
    return rows if viewer.role == Role.HEAD_COACH else rows.none()


def week_on(viewer: Viewer, monday: date) -> WeekPlan | None:
    """The week's draft that begins on `monday`, where the viewer plans it and there is one."""
    return _WEEK.first(club=viewer.club_id, monday=monday) if viewer.role == Role.HEAD_COACH else None


def get_week(viewer: Viewer, monday: date) -> WeekPlan:
    """The week's draft that begins on `monday`; absent and not yours are the same."""
    found = week_on(viewer, monday)
    if found is None:
        raise NotFound()
    return found


def get_proposal(viewer: Viewer, proposal_id: UUID) -> Proposal:
    """One proposal for a week whose draft the viewer may see, with its week."""
    rows = Proposal.objects.filter(pk=proposal_id, week__in=weeks_visible_to(viewer))
    found = rows.select_related("week").defer("problem").first()
    if found is None:
        raise NotFound()
    return found


def seasons_planned_by(viewer: Viewer) -> QuerySet[SeasonPlan]:
    """The seasons that the viewer plans: the head coach's alone."""
    rows = SeasonPlan.objects.filter(club=viewer.club_id)
    return rows if viewer.role == Role.HEAD_COACH else rows.none()


def get_season(viewer: Viewer, season_id: UUID) -> SeasonPlan:
    """One season that the viewer plans; absent and not yours are the same."""
    found = seasons_planned_by(viewer).filter(pk=season_id).first()
    if found is None:
        raise NotFound()
    return found


def get_rehearsal(viewer: Viewer, rehearsal_id: UUID) -> Rehearsal:
    """One rehearsal of a season that the viewer plans, with its season."""
    rows = Rehearsal.objects.filter(pk=rehearsal_id, season__in=seasons_planned_by(viewer))
    found = rows.select_related("season").first()
    if found is None:
        raise NotFound()
    return found


def groups_set_by(viewer: Viewer, *, acting_as: ActingRole | None = None) -> QuerySet[EventGroup]:
    """The event groups whose defaults the viewer sets: a head coach all, an adult coach with a check in date those of
    the assignments of today. `acting_as`: as whom a coach acts today, where that is known."""
    rows = EventGroup.objects.filter(club=viewer.club_id)
    if viewer.role == Role.HEAD_COACH:
        return rows
    is_coach = viewer.role == Role.COACH
    if not is_coach or (acting_as or role_of_coach_on(viewer=viewer, day=viewer.today)) is not ActingRole.COACH:
        return rows.none()
    assigned = CoachAssignment.objects.filter(in_force(viewer.today), coach=viewer.person_id)
    return rows.filter(pk__in=assigned.values("group_id"))


def get_group_set(viewer: Viewer, group_id: UUID) -> EventGroup:
    """One event group whose defaults the viewer sets; absent and not yours are the same."""
    found = groups_set_by(viewer).filter(pk=group_id).first()
    if found is None:
        raise NotFound()
    return found


def get_venue(viewer: Viewer, venue_id: UUID) -> Venue:
    """One venue of the club for its head coach; absent and not yours are the same."""
    found = Venue.objects.filter(club=viewer.club_id, pk=venue_id).first() if viewer.role == Role.HEAD_COACH else None
    if found is None:
        raise NotFound()
    return found


def coaches_kept_by(viewer: Viewer) -> QuerySet[Person]:
    """The coaches of today whose evenings the viewer keeps: a head coach all, a coach one's own."""
    held = StaffRole.objects.filter(in_force(viewer.today), club=viewer.club_id, role=Role.COACH)
    people = Person.objects.filter(pk__in=held.values("person_id")).order_by("family_name", "given_name", "pk")
    if viewer.role == Role.COACH:
        return people.filter(pk=viewer.person_id)
    return people if viewer.role == Role.HEAD_COACH else people.none()


def get_kept_coach(viewer: Viewer, coach_id: UUID) -> Person:
    """One coach whose evenings the viewer keeps; absent and not yours are the same."""
    found = coaches_kept_by(viewer).filter(pk=coach_id).first()
    if found is None:
        raise NotFound()
    return found


def _sessions_led_by(viewer: Viewer) -> QuerySet[SessionCoach]:
    led = SessionCoach.objects.filter(coach=viewer.person_id, taken_off_at__isnull=True)
    return led.values("training_session_id")
