"""A small club with a week to plan: venues with hours, coaches with evenings, a season with one phase."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from athletes.models import EventGroup, Person
from athletes.viewer import Viewer, viewer_for
from sessions.core.iso_week import monday_of
from sessions.models import (
    CoachEvening,
    Demand,
    PatternItem,
    Phase,
    Placement,
    SeasonPlan,
    Venue,
    VenueOpening,
    WeekPlan,
)
from sessions.services.make_week import make_week
from teamtrack.common.clock import today_in
from tests.people import Scene, make_athlete, make_scene

LONG_AGO = date(2020, 1, 1)


@dataclass
class PlanScene:
    """The scene of tests.people and next week's plan for its group: hard, technique, easy."""

    scene: Scene
    season: SeasonPlan
    phase: Phase
    monday: date

    @property
    def viewer(self) -> Viewer:
        return viewer_for(self.scene.head_coach, "head_coach")

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.scene.club.timezone)

    @property
    def week(self) -> WeekPlan:
        return WeekPlan.objects.get(club=self.scene.club, monday=self.monday)

    def at(self, day: int, hour: int, minute: int = 0) -> datetime:
        """An instant of the week: day 0 is Monday."""
        return datetime.combine(self.monday + timedelta(days=day), time(hour, minute), self.zone)

    def demand(self, kind: str) -> Demand:
        return Demand.objects.get(week=self.week, kind=kind)


def open_venue(venue: Venue, *, starts: time = time(16), ends: time = time(21), days: range = range(1, 8)) -> None:
    for weekday in days:
        VenueOpening.objects.create(
            club=venue.club, venue=venue, weekday=weekday, starts=starts, ends=ends, first_day=LONG_AGO
        )


def give_evenings(coach: Person, *, starts: time = time(17), ends: time = time(21), days: range = range(1, 8)) -> None:
    for weekday in days:
        CoachEvening.objects.create(
            club=coach.club, coach=coach, weekday=weekday, starts=starts, ends=ends, first_day=LONG_AGO
        )


def make_pattern(
    phase: Phase,
    group: EventGroup,
    kind: str,
    *,
    venue: Venue,
    coaches: tuple[Person, ...],
    weekday: int | None = None,
    minutes: int = 60,
    order: int = 1,
    priority: int = 2,
    observers: int = 1,
) -> PatternItem:
    item = PatternItem.objects.create(
        club=phase.club, phase=phase, group=group, kind=kind, duration_min=minutes, order=order, priority=priority,
        observers=observers, usual_weekday=weekday, usual_from=time(18) if weekday else None,
        usual_until=time(20) if weekday else None,
    )  # fmt: skip
    item.venues.add(venue)
    item.coaches.add(*coaches)
    return item


def make_plan_scene() -> PlanScene:
    scene = make_scene()
    club = scene.club
    monday = monday_of(today_in(club.timezone)) + timedelta(days=7)
    season = SeasonPlan.objects.create(club=club, name="Spring", first_monday=monday - timedelta(days=14), weeks=10)
    phase = Phase.objects.create(club=club, season=season, aim="specific", first_week=1, last_week=10)
    open_venue(scene.venue)
    for coach in (scene.coach, scene.second_coach, scene.helper):
        give_evenings(coach)
    coaches = (scene.coach, scene.second_coach, scene.helper)
    for order, (kind, weekday) in enumerate((("hard", 2), ("technique", 4), ("easy", 6)), start=1):
        make_pattern(
            phase, scene.group, kind, venue=scene.venue, coaches=coaches, weekday=weekday, order=order, priority=2
        )
    return PlanScene(scene, season, phase, monday)


def place(
    demand: Demand, starts_at: datetime, *coaches: Person, excused: tuple[Person, ...] = (), venue: Venue | None = None
) -> Placement:
    placement = Placement.objects.create(
        club=demand.club,
        demand=demand,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(minutes=demand.duration_min),
        venue=venue or demand.venues.first(),
    )
    placement.coaches.set(coaches)
    placement.excused.set(excused)
    return placement


def add_athletes(scene: Scene, count: int) -> list[Person]:
    return [make_athlete(scene.club, f"Runner{number}", scene.group, account=False) for number in range(count)]


def make_placed_week() -> PlanScene:
    """The week as a draft: hard on Tuesday, technique on Thursday, easy on Saturday, each at 18:00 with the coach."""
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    for kind, day in (("hard", 1), ("technique", 3), ("easy", 5)):
        place(made.demand(kind), made.at(day, 18), made.scene.coach)
    return made
