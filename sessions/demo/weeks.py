"""Fills weeks of the invented club: demands from the season, places by the planner's rules, the published calendar."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.planner.problem import Placement as Place
from sessions.core.planner.reading import read_problem
from sessions.demo import words
from sessions.demo.placing import Roster, Slot, usual_placements
from sessions.models import Demand, Placement, SessionAthlete, SessionCoach, TrainingSession, WeekPlan
from sessions.selectors.planning_problem import build_problem
from sessions.selectors.week_draft import demands_of
from sessions.services.make_week import make_week

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Filling:
    """Who fills the weeks of which club, as the head coach does, with which seed; `helpers` are under 18."""

    viewer: Viewer
    seed: int
    helpers: frozenset[UUID]

    def at(self, moment: datetime) -> Viewer:
        """The head coach at another moment."""
        return replace(self.viewer, now=moment)

    def chance(self, *what: object) -> Random:
        """A source of chance of its own for each matter, so that none depends on what was drawn before."""
        return Random(":".join(map(str, (self.seed, *what))))  # noqa: S311 - a seeded club, no secret

    def week(self, monday: date) -> IsoWeek:
        return IsoWeek(monday, ZoneInfo(self.viewer.club.timezone))


@dataclass(frozen=True)
class Placed:
    """A demand, its place and who comes, about to be published."""

    demand: Demand
    place: Place
    roster: Roster
    training_session: TrainingSession


def fill_week(filling: Filling, monday: date) -> list[TrainingSession]:
    """Plan and publish a week as it usually is, unless somebody has planned or published it already."""
    week = filling.week(monday)
    viewer = filling.at(week.starts_at)
    plan = make_week(viewer=viewer, monday=monday)
    if plan.published_at is not None or is_planned_by_hand(plan):
        return []
    demands = {str(demand.pk): demand for demand in demands_of(plan)}
    problem = read_problem(build_problem(viewer=viewer, week=plan).document)
    slots = [_slot(demands[key]) for key in problem.demands if demands[key].preferred]
    found = usual_placements(problem, slots)
    placed = [
        Placed(demand, *found[key], _session(filling, demand, found[key][0]))
        for key, demand in demands.items()
        if key in found
    ]
    _publish(filling, plan, placed)
    return [one.training_session for one in placed]


def is_planned_by_hand(plan: WeekPlan) -> bool:
    """Whether something of the draft was placed or asked of the planner."""
    return Placement.objects.filter(demand__week=plan).exists() or plan.proposals.exists()


def _slot(demand: Demand) -> Slot:
    """The usual slot of the pattern; technique and what matters most is placed first."""
    start = datetime.fromisoformat(demand.preferred[0]["start"])
    order = (-demand.priority, demand.group.order, demand.order)
    return Slot(str(demand.pk), (start - EPOCH) // timedelta(minutes=1), order)


def _session(filling: Filling, demand: Demand, place: Place) -> TrainingSession:
    starts_at = EPOCH + timedelta(minutes=place.start)
    chance = filling.chance("bring", demand.group.name, demand.order, starts_at.date())
    return TrainingSession(
        club_id=demand.club_id,
        demand=demand,
        kind=demand.kind,
        also=demand.also,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(minutes=demand.duration_min),
        venue_id=UUID(place.venue),
        lanes=demand.lanes,
        bring=chance.choice(words.BRING),
    )


def _publish(filling: Filling, plan: WeekPlan, placed: list[Placed]) -> None:
    TrainingSession.objects.bulk_create(one.training_session for one in placed)
    groups = TrainingSession.groups.through
    groups.objects.bulk_create(
        groups(trainingsession=one.training_session, eventgroup_id=one.demand.group_id) for one in placed
    )
    _write_placements(placed)
    for one in placed:
        write_staff(filling, one.training_session, [UUID(coach) for coach in one.place.coaches])
    SessionAthlete.objects.bulk_create(row for one in placed for row in _roster_rows(one))
    zone = filling.week(plan.monday).zone
    plan.published_at = plan.changed_at = datetime.combine(plan.monday - timedelta(days=3), time(20), zone)
    plan.published_revision, plan.published_by_id = plan.revision, filling.viewer.person_id
    plan.save(update_fields=["published_revision", "published_at", "changed_at", "published_by"])


def _write_placements(placed: list[Placed]) -> None:
    rows = {one.demand.pk: _placement(one) for one in placed}
    Placement.objects.bulk_create(rows.values())
    coaches, excused, away = Placement.coaches.through, Placement.excused.through, Placement.away.through
    coaches.objects.bulk_create(
        coaches(placement=rows[one.demand.pk], person_id=UUID(key)) for one in placed for key in one.place.coaches
    )
    excused.objects.bulk_create(
        excused(placement=rows[one.demand.pk], person_id=UUID(key)) for one in placed for key in one.roster.excused
    )
    easier = Placement.easier.through
    easier.objects.bulk_create(
        easier(placement=rows[one.demand.pk], person_id=UUID(key)) for one in placed for key in one.roster.excused
    )
    away.objects.bulk_create(
        away(placement=rows[one.demand.pk], person_id=UUID(key)) for one in placed for key in one.roster.away
    )


def _placement(one: Placed) -> Placement:
    session = one.training_session
    return Placement(
        club_id=session.club_id,
        demand=one.demand,
        starts_at=session.starts_at,
        ends_at=session.ends_at,
        venue_id=session.venue_id,
    )


def write_staff(filling: Filling, training_session: TrainingSession, coach_ids: list[UUID]) -> None:
    """Put coaches and helpers on a training session's list."""
    SessionCoach.objects.bulk_create(
        SessionCoach(
            club_id=training_session.club_id,
            training_session=training_session,
            coach_id=coach_id,
            part=SessionCoach.Part.HELPER if coach_id in filling.helpers else SessionCoach.Part.COACH,
        )
        for coach_id in coach_ids
    )


def _roster_rows(one: Placed) -> list[SessionAthlete]:
    how: Mapping[str, str] = dict.fromkeys(one.roster.excused, SessionAthlete.Comes.EASIER) | dict.fromkeys(
        one.roster.away, SessionAthlete.Comes.AWAY
    )
    return [
        SessionAthlete(
            club_id=one.training_session.club_id,
            training_session=one.training_session,
            athlete_id=UUID(key),
            comes=how.get(key, SessionAthlete.Comes.WHOLE),
        )
        for key in one.roster.members
    ]
