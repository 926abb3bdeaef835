"""What stands in the invented calendar beside the weekly pattern: meets, an early agreement, a session of today."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from uuid import UUID

from django.db.models import Count

from athletes.circumstances.relations import role_of_coach_on
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Account, CoachAssignment, EventGroup, GroupMembership, Person
from athletes.viewer import Viewer, in_force
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.core.planner.limits import lanes_in_use, lies_in_one
from sessions.core.planner.problem import Item, Kind, Problem
from sessions.core.planner.reading import read_problem
from sessions.demo import layout, season
from sessions.demo.placing import fresh_for, meet
from sessions.demo.weeks import EPOCH, Filling, write_staff
from sessions.models import SessionAthlete, SessionCoach, TrainingSession, Venue, WeekPlan
from sessions.selectors.planning_problem import build_problem

LEAST_ATHLETES = 12
TODAY_MINUTES = 60
STARTS = tuple(range(0, 181, 15))
"""Minutes after the evening (or morning) begins at which a session of today may begin."""


def write_meets(filling: Filling, groups: dict[str, EventGroup]) -> None:
    """The season's meets, published long ago."""
    this_monday = monday_of(filling.viewer.today)
    for spec in season.MEETS:
        week = filling.week(this_monday + timedelta(weeks=spec.weeks_ahead))
        starts_at = week.at(week.days[spec.day], time(10))
        meet = TrainingSession.objects.create(
            club_id=filling.viewer.club_id,
            kind="meet",
            title=spec.title,
            place=spec.place,
            importance=spec.importance,
            load_min=spec.load_min,
            starts_at=starts_at,
            ends_at=starts_at + timedelta(hours=6),
        )
        meet.groups.set(groups[key] for key in spec.groups)
        _write_roster(meet, _members([groups[key] for key in spec.groups], starts_at))


def write_agreed_session(filling: Filling, group: EventGroup) -> TrainingSession:
    """A technique session of next week that was agreed and published before the week is planned."""
    week = filling.week(monday_of(filling.viewer.today) + timedelta(weeks=1))
    starts_at = week.at(week.days[season.AGREED_DAY], time(17, 30))
    venue = layout.VENUES[layout.MEADOW].name
    session = _technique_session(filling, [group], starts_at, venue, title="Open evening of the youngest")
    write_staff(filling, session, _adult_coaches(filling.viewer, group))
    _write_roster(session, _members([group], starts_at))
    return session


def ensure_session_today(filling: Filling) -> TrainingSession | None:
    """See to it that a technique session of today has twelve athletes, two adult coaches and a helper under 18.

    Where one wants the helper alone, the helper comes along; where there is none, one is added for whoever is fresh.
    Returns the session that was added or changed, None where all was there.
    """
    full = [
        session
        for session in _technique_sessions_today(filling)
        if session.session_athletes.count() >= LEAST_ATHLETES and len(_adults_on(filling, session)) >= 2
    ]
    if any(_has_helper(filling, session) for session in full):
        return None
    if not full:
        return _add_session_today(filling)
    most_signing_in = max(full, key=lambda session: session.athletes_with_account)
    write_staff(filling, most_signing_in, sorted(filling.helpers)[:1])
    return most_signing_in


def _technique_sessions_today(filling: Filling) -> list[TrainingSession]:
    today = filling.viewer.today
    week = filling.week(monday_of(today))
    begins = week.at(today, time())
    return list(
        TrainingSession.objects.filter(
            club=filling.viewer.club_id,
            kind=Kind.TECHNIQUE,
            state=TrainingSession.State.PUBLISHED,
            starts_at__gte=begins,
            starts_at__lt=begins + timedelta(days=1),
        ).annotate(athletes_with_account=Count("session_athletes__athlete__account"))
    )


def _on_list(session: TrainingSession) -> list[SessionCoach]:
    return list(session.session_coaches.filter(taken_off_at=None).select_related("coach"))


def _adults_on(filling: Filling, session: TrainingSession) -> list[UUID]:
    return [row.coach_id for row in _on_list(session) if _may_lead(filling.viewer, row.coach)]


def _has_helper(filling: Filling, session: TrainingSession) -> bool:
    return any(row.coach_id in filling.helpers for row in _on_list(session))


def _may_lead(viewer: Viewer, person: Person) -> bool:
    """An adult whose check is in date, and who signs in."""
    as_coach = Viewer(person=person, club=viewer.club, role="coach", now=viewer.now)
    is_coach = role_of_coach_on(viewer=as_coach, day=viewer.today) is ActingRole.COACH
    return is_coach and Account.objects.filter(person=person).exists()


def _adult_coaches(viewer: Viewer, group: EventGroup) -> list[UUID]:
    rows = CoachAssignment.objects.filter(in_force(viewer.today), group=group).select_related("coach")
    ordered = rows.order_by("coach__family_name", "coach__given_name")
    return [row.coach_id for row in ordered if _may_lead(viewer, row.coach)]


@dataclass(frozen=True)
class _Choice:
    """A group that could train today: who of it is fresh, when and where."""

    group: EventGroup
    coaches: tuple[UUID, ...]
    fresh: tuple[UUID, ...]
    starts_at: datetime
    venue: UUID


def _add_session_today(filling: Filling) -> TrainingSession | None:
    """A technique session for the group of which most are fresh; for all of it where none has enough who are."""
    choices = list(_choices(filling))
    if not choices:
        return None
    best = max(choices, key=lambda choice: (min(len(choice.fresh), LEAST_ATHLETES), -choice.group.order))
    everybody = [person.pk for person in _members([best.group], best.starts_at)]
    come = list(best.fresh) if len(best.fresh) >= LEAST_ATHLETES else everybody
    session = _technique_session(filling, [best.group], best.starts_at, best.venue)
    write_staff(filling, session, [*best.coaches[:2], *sorted(filling.helpers)[:1]])
    _write_roster(session, list(Person.objects.filter(pk__in=come)))
    return session


def _choices(filling: Filling) -> Iterator[_Choice]:
    viewer = filling.viewer
    week = filling.week(monday_of(viewer.today))
    plan = WeekPlan(club_id=viewer.club_id, monday=week.monday)
    document = build_problem(viewer=filling.at(week.starts_at), week=plan).document
    problem = read_problem(document)
    for group in EventGroup.objects.filter(club=viewer.club_id):
        coaches = _adult_coaches(viewer, group)
        members = [str(person.pk) for person in _members([group], viewer.now)]
        if len(coaches) < 2 or len(members) < LEAST_ATHLETES:
            continue
        people = (*coaches[:2], *sorted(filling.helpers)[:1])
        slot = _free_slot(problem, week, viewer, [str(one) for one in people])
        if slot is not None:
            item, venue = slot
            fresh = fresh_for(problem, item, members)
            yield _Choice(
                group, tuple(coaches), tuple(UUID(one) for one in fresh), EPOCH + timedelta(minutes=item.start), venue
            )


def _free_slot(problem: Problem, week: IsoWeek, viewer: Viewer, coaches: Sequence[str]) -> tuple[Item, UUID] | None:
    """The first quarter of an hour of today at which a venue has lanes and the coaches are free."""
    first = week.at(viewer.today, layout.hours_of(viewer.today.isoweekday())[0])
    others = [fixed.item for fixed in problem.fixed.values()]
    for minutes in STARTS:
        start = (first + timedelta(minutes=minutes) - EPOCH) // timedelta(minutes=1)
        for venue in problem.venues.values():
            item = _item(start, venue.id, coaches)
            beside = [other for other in others if meet(item, other) and other.venue == venue.id]
            busy = any(meet(item, other) and set(other.coaches) & set(coaches) for other in others)
            is_open = lies_in_one(venue.open, item.start, item.end)
            if is_open and not busy and lanes_in_use([*beside, item], item.start, item.end) <= venue.lanes:
                return item, UUID(venue.id)
    return None


def _item(start: int, venue: str, coaches: Sequence[str]) -> Item:
    kinds, end = frozenset({Kind.TECHNIQUE}), start + TODAY_MINUTES
    return Item("today", kinds, start, end, (), tuple(coaches), venue, 2, TODAY_MINUTES, is_fixed=False)


def _members(groups: Sequence[EventGroup], moment: datetime) -> list[Person]:
    rows = GroupMembership.objects.filter(in_force(moment.date()), group__in=groups)
    return list(Person.objects.filter(pk__in=rows.values("athlete_id")).order_by("family_name", "given_name"))


def _technique_session(
    filling: Filling, groups: Sequence[EventGroup], starts_at: datetime, venue: UUID | str, *, title: str = ""
) -> TrainingSession:
    where = venue if isinstance(venue, UUID) else Venue.objects.get(club=filling.viewer.club_id, name=venue).pk
    session = TrainingSession.objects.create(
        club_id=filling.viewer.club_id,
        kind=Kind.TECHNIQUE,
        title=title,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(minutes=TODAY_MINUTES),
        venue_id=where,
        lanes=2,
    )
    session.groups.set(groups)
    return session


def _write_roster(session: TrainingSession, people: Sequence[Person]) -> None:
    SessionAthlete.objects.bulk_create(
        SessionAthlete(club_id=session.club_id, training_session=session, athlete=person) for person in people
    )
