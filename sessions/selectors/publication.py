"""What publishing a week would do: which training sessions change, and exactly whom that concerns."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Prefetch

from athletes.access import answers_for
from athletes.circumstances.facts import Circumstances
from athletes.core import ages
from athletes.core.permissions import decide
from athletes.core.permissions import facts as fact
from athletes.models import Guardianship, Person, Withholding
from athletes.viewer import Viewer, in_force
from sessions.core.iso_week import IsoWeek
from sessions.core.week_changes import WHEN_AND_WHERE, Change, Place, changes
from sessions.models import Demand, Notice, SessionAthlete, SessionCoach, TrainingSession, WeekPlan
from sessions.selectors.availability import said_not_coming
from sessions.selectors.planned_people import planned_people
from sessions.selectors.week_draft import demands_of, draft_places

EASIER = SessionAthlete.Comes.EASIER


@dataclass(frozen=True)
class Told:
    """One notice to be made: to whom, of which kind, about which athlete where it goes to a guardian; `in_app_only`:
    whoever it is about had said not to come anyway."""

    to: UUID
    kind: Notice.Kind
    about: UUID | None = None
    in_app_only: bool = False


@dataclass(frozen=True)
class SessionChange:
    """One training session that publishing makes, changes or calls off; those away may come to an `easier` version."""

    demand: Demand
    change: Change
    comes: frozenset[UUID]
    away: frozenset[UUID]
    easier: frozenset[UUID]
    told: tuple[Told, ...]


@dataclass(frozen=True)
class Publication:
    """Everything that publishing the draft would do."""

    changes: tuple[SessionChange, ...]

    @property
    def people(self) -> set[UUID]:
        return {told.to for change in self.changes for told in change.told}


def publication_of(*, viewer: Viewer, week: WeekPlan, places: Mapping[str, Place] | None = None) -> Publication:
    """The draft, or other `places` of its demands, against what is published, for sessions that have not begun; a fixed
    number of queries."""
    return _Comparing(viewer, week, places).publication()


class _Comparing:
    """Published places and people on one side, the draft's on the other."""

    def __init__(self, viewer: Viewer, week: WeekPlan, places: Mapping[str, Place] | None) -> None:
        self.viewer = viewer
        self.iso_week = IsoWeek(week.monday, ZoneInfo(viewer.club.timezone))
        self.published = _published(week)
        rows = demands_of(week)
        self.demands = {str(row.pk): row for row in rows if not self._has_begun(row)}
        drafted = draft_places(list(self.demands.values())) if places is None else places
        self.draft = {key: place for key, place in drafted.items() if key in self.demands}
        self.people = planned_people(viewer=viewer, week=self.iso_week)
        self.families = families_told(viewer, list(self.people.athletes.values()))

    def publication(self) -> Publication:
        before = {
            key: self._published_place(key)
            for key, demand in self.demands.items()
            if demand.pk in self.published and not self.published[demand.pk].is_called_off
        }
        after = {
            key: self._with_roster(key, place)
            for key, place in self.draft.items()
            if place.starts_at > self.viewer.now or key in before
        }
        found = changes(before, after, self.iso_week.zone)
        return Publication(tuple(self._session_change(change) for change in found))

    def _has_begun(self, demand: Demand) -> bool:
        training_session = self.published.get(demand.pk)
        if training_session is None or training_session.is_called_off:
            return False
        return training_session.starts_at <= self.viewer.now

    def _with_roster(self, key: str, place: Place) -> Place:
        """The draft's place with everybody who does not come as `excused`, so that rosters compare."""
        stays = self._roster(key) - self._coming(key, place)
        easier = frozenset(str(one) for one in self._easier(key, place))
        return replace(place, excused=frozenset(str(one) for one in stays), away=frozenset(), easier=easier)

    def _published_place(self, key: str) -> Place:
        """The published session as a place, with everybody who does not come as `excused`."""
        training_session = self.published[self.demands[key].pk]
        stays = self._roster(key) - self._came(key)
        return Place(
            starts_at=training_session.starts_at,
            ends_at=training_session.ends_at,
            venue=str(training_session.venue_id),
            coaches=tuple(sorted(str(row.coach_id) for row in training_session.session_coaches.all())),
            excused=frozenset(str(one) for one in stays),
            easier=frozenset(str(one) for one in self._came(key, EASIER)),
        )

    def _coming(self, key: str, place: Place | None) -> frozenset[UUID]:
        if place is None:
            return frozenset()
        members = self.people.members.get(self.demands[key].group_id, [])
        return frozenset(athlete for athlete in members if str(athlete) not in place.absent)

    def _came(self, key: str, how: str = SessionAthlete.Comes.WHOLE) -> frozenset[UUID]:
        """Who comes in this way as published: to the whole, or to an easier version."""
        training_session = self.published.get(self.demands[key].pk)
        rows = training_session.session_athletes.all() if training_session else []
        return frozenset(row.athlete_id for row in rows if row.comes == how)

    def _easier(self, key: str, place: Place | None) -> frozenset[UUID]:
        """Who comes to an easier version by the draft, of those who would stay away."""
        members = self.people.members.get(self.demands[key].group_id, []) if place else []
        return frozenset(one for one in members if place and str(one) in place.easier)

    def _roster(self, key: str) -> frozenset[UUID]:
        """Everybody who is in the group or on the published roster."""
        training_session = self.published.get(self.demands[key].pk)
        listed = training_session.session_athletes.all() if training_session else []
        members = self.people.members.get(self.demands[key].group_id, [])
        return frozenset(members) | {row.athlete_id for row in listed}

    def _session_change(self, change: Change) -> SessionChange:
        demand = self.demands[change.demand]
        came = self._came(change.demand) if change.before else frozenset()
        comes = self._coming(change.demand, change.after)
        easier = self._easier(change.demand, change.after)
        told = self._told(change, came, comes, easier)
        members = frozenset(self.people.members.get(demand.group_id, []))
        return SessionChange(demand, change, comes, members - comes, easier, tuple(told))

    def _told(
        self, change: Change, came: frozenset[UUID], comes: frozenset[UUID], easier: frozenset[UUID]
    ) -> Iterable[Told]:
        moved = bool(change.aspects & WHEN_AND_WHERE)
        came_easier = self._came(change.demand, EASIER) if change.before else frozenset()
        for athlete in sorted(came | comes | easier | came_easier):
            was_there, is_there = athlete in came | came_easier, athlete in comes | easier
            kind = _kind_for(was_there, is_there, moved)
            if athlete in easier - came_easier and not (moved and was_there):
                kind = Notice.Kind.EASIER
            if athlete in comes & came_easier and not moved:
                kind = Notice.Kind.ADDED
            if kind is not None:
                stays_away = kind == Notice.Kind.CALLED_OFF and self._said_not_coming(change.demand, athlete)
                yield Told(athlete, kind, in_app_only=stays_away)
                for guardian in self.families.get(athlete, ()):
                    yield Told(guardian, kind, about=athlete, in_app_only=stays_away)
        old = {UUID(one) for one in change.before.coaches} if change.before else set()
        new = {UUID(one) for one in change.after.coaches} if change.after else set()
        for coach in sorted(old | new):
            kind = _kind_for(coach in old, coach in new, moved)
            if kind is not None:
                yield Told(coach, kind)

    def _said_not_coming(self, key: str, athlete: UUID) -> bool:
        training_session = self.published.get(self.demands[key].pk)
        return training_session is not None and (training_session.pk, athlete) in self.not_coming

    @cached_property
    def not_coming(self) -> set[tuple[UUID, UUID]]:
        """Who said not to come to which published session."""
        athletes = list(self.people.athletes.values())
        return said_not_coming(viewer=self.viewer, training_sessions=self.published.values(), athletes=athletes)


def _kind_for(was_there: bool, is_there: bool, is_moved: bool) -> Notice.Kind | None:
    """What one person is told; nothing where the session is for them as it was."""
    if was_there and is_there:
        return Notice.Kind.MOVED if is_moved else None
    if is_there:
        return Notice.Kind.ADDED
    return Notice.Kind.CALLED_OFF


def _published(week: WeekPlan) -> dict[UUID, TrainingSession]:
    """By demand the training session that was published for it, called off or not."""
    leading = Prefetch("session_coaches", SessionCoach.objects.filter(taken_off_at__isnull=True))
    rows = TrainingSession.objects.filter(demand__week=week).prefetch_related("session_athletes", leading)
    return {row.demand_id: row for row in rows if row.demand_id is not None}


def families_told(viewer: Viewer, athletes: Collection[Person]) -> dict[UUID, list[UUID]]:
    """By minor the guardians who may see when and where the child trains: each pair asked of the one decision."""
    answers = answers_for(viewer=viewer, athletes=athletes, purposes=["plan"])
    minors = {person.pk for person in athletes if _is_minor(person, viewer)}
    withheld = set(
        Withholding.objects.filter(in_force(viewer.today), athlete__in=minors).values_list("athlete_id", "guardian_id")
    )
    rows = Guardianship.objects.filter(in_force(viewer.today), athlete__in=minors, guardian__club=viewer.club_id)
    found: dict[UUID, list[UUID]] = defaultdict(list)
    for athlete_id, guardian_id, authority in rows.order_by("id").values_list("athlete_id", "guardian_id", "authority"):
        is_withheld = (athlete_id, guardian_id) in withheld
        if _sees_plan(answers.found, athlete_id, fact.Authority(authority), is_withheld=is_withheld):
            found[athlete_id].append(guardian_id)
    return found


def _sees_plan(found: Circumstances, athlete_id: UUID, authority: fact.Authority, *, is_withheld: bool) -> bool:
    facts = found.facts(athlete_id, "plan", act="view_as_guardian")
    guardian = (fact.Guardian(fact.Stance.NONE, authority),)
    return decide(replace(facts, by=fact.Role.GUARDIAN, guardians=guardian, withheld=is_withheld)).may


def _is_minor(person: Person, viewer: Viewer) -> bool:
    return person.birth_date is None or ages.is_minor(ages.age_on(person.birth_date, viewer.today))
