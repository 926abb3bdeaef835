"""The season as a strip of weeks: phases, main meets, what is special, how many sessions are planned and published."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from athletes.models import EventGroup
from athletes.viewer import Viewer
from sessions.access import training_sessions_visible_to
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.core.season import Modifier, Pattern, PhaseWeeks, demands_of_week, phase_of_week, week_of_season
from sessions.models import PatternItem, Phase, SeasonPlan, TrainingSession, WeekModifier
from sessions.models.season import Kind
from sessions.selectors.planned_people import planned_people


@dataclass(frozen=True)
class StripWeek:
    """One week of the season; `planned` follows from the pattern, `published` is in the calendar; minutes alike."""

    number: int
    week: IsoWeek
    phase: Phase | None
    begins_phase: bool
    modifiers: tuple[WeekModifier, ...]
    meets: tuple[TrainingSession, ...]
    planned: int
    published: int
    planned_min: int
    published_min: int
    is_now: bool


@dataclass(frozen=True)
class PhasePattern:
    """A phase, from which day to which, with the weekly pattern of each group, in the groups' order."""

    phase: Phase
    first_day: date
    last_day: date
    groups: tuple[tuple[EventGroup, tuple[PatternItem, ...]], ...]


@dataclass(frozen=True)
class SeasonStrip:
    """A whole season."""

    season: SeasonPlan
    weeks: tuple[StripWeek, ...]
    patterns: tuple[PhasePattern, ...]


def season_strip(*, viewer: Viewer, season: SeasonPlan | None = None) -> SeasonStrip | None:
    """The given season, else that of today, else the one that begins last; a fixed number of queries."""
    seasons = list(SeasonPlan.objects.filter(club=viewer.club_id))
    monday = monday_of(viewer.today)
    of_today = (one for one in seasons if _number(one, monday) is not None)
    season = season or next(of_today, seasons[0] if seasons else None)
    return _strip(viewer, season, monday) if season is not None else None


def _strip(viewer: Viewer, season: SeasonPlan, monday: date) -> SeasonStrip:
    phases = list(season.phases.all())
    items = list(
        PatternItem.objects.filter(phase__season=season)
        .select_related("group")
        .order_by("group__order", "group__name", "order", "id")
    )
    counts, minutes, meets = _calendar(viewer, season)
    reading = _Reading(viewer, season, phases, items)
    weeks = [
        StripWeek(
            number=number,
            week=(week := reading.week(number)),
            phase=(phase := reading.phase(number)),
            begins_phase=phase is not None and phase.first_week == number,
            modifiers=tuple(reading.modifiers[number]),
            meets=tuple(meets[number]),
            planned=len(demands := reading.demands(number)),
            published=counts[number],
            planned_min=sum(reading.minutes[one.id] for one in demands),
            published_min=minutes[number],
            is_now=week.monday == monday,
        )
        for number in range(1, season.weeks + 1)
    ]
    groups = list(EventGroup.objects.filter(club=viewer.club_id))
    return SeasonStrip(season, tuple(weeks), tuple(_pattern(season, phase, items, groups) for phase in phases))


class _Reading:
    """The season's rows by week; groups and squads as they are this week."""

    def __init__(self, viewer: Viewer, season: SeasonPlan, phases: list[Phase], items: list[PatternItem]) -> None:
        self.season, self.items = season, items
        self.zone = ZoneInfo(viewer.club.timezone)
        self.minutes = {item.pk: item.duration_min for item in items}
        self.phases = {phase.pk: phase for phase in phases}
        self.spans = [PhaseWeeks(phase.pk, phase.first_week, phase.last_week) for phase in phases]
        self.modifiers: dict[int, list[WeekModifier]] = defaultdict(list)
        for modifier in season.modifiers.select_related("squad").order_by("week", "reason", "id"):
            self.modifiers[modifier.week].append(modifier)
        this_week = IsoWeek(monday_of(viewer.today), self.zone)
        self.shares = planned_people(viewer=viewer, week=this_week).squad_shares()

    def week(self, number: int) -> IsoWeek:
        return IsoWeek(self.season.first_monday + timedelta(days=7 * (number - 1)), self.zone)

    def phase(self, number: int) -> Phase | None:
        span = phase_of_week(self.spans, number)
        return self.phases[span.id] if span else None

    def demands(self, number: int) -> list[Pattern]:
        """The demands that the week would have."""
        phase = self.phase(number)
        of_phase = [item for item in self.items if phase is not None and item.phase_id == phase.pk]
        patterns = [Pattern(item.pk, item.group_id, item.priority, item.order) for item in of_phase]
        limits = [
            Modifier(modifier.squad_id or modifier.school_year, modifier.most_sessions)
            for modifier in self.modifiers[number]
        ]
        return demands_of_week(patterns, limits, self.shares)


def _calendar(
    viewer: Viewer, season: SeasonPlan
) -> tuple[Counter[int], Counter[int], dict[int, list[TrainingSession]]]:
    """By week of the season: how many sessions are published, their minutes, and the main meets."""
    zone = ZoneInfo(viewer.club.timezone)
    first = IsoWeek(season.first_monday, zone)
    last = IsoWeek(season.first_monday + timedelta(days=7 * (season.weeks - 1)), zone)
    rows = training_sessions_visible_to(viewer).filter(
        state=TrainingSession.State.PUBLISHED, starts_at__gte=first.starts_at, starts_at__lt=last.ends_at
    )
    counts: Counter[int] = Counter()
    minutes: Counter[int] = Counter()
    meets: dict[int, list[TrainingSession]] = defaultdict(list)
    for row in rows.order_by("starts_at", "id"):
        number = _number(season, monday_of(row.starts_at.astimezone(zone).date()))
        if number is None:
            continue
        if row.kind != Kind.MEET:
            counts[number] += 1
            minutes[number] += int((row.ends_at - row.starts_at).total_seconds() // 60)
        elif row.importance == TrainingSession.Importance.MAIN:
            meets[number].append(row)
    return counts, minutes, meets


def _pattern(season: SeasonPlan, phase: Phase, items: list[PatternItem], groups: list[EventGroup]) -> PhasePattern:
    of_phase = [item for item in items if item.phase_id == phase.pk]
    return PhasePattern(
        phase,
        season.first_monday + timedelta(weeks=phase.first_week - 1),
        season.first_monday + timedelta(weeks=phase.last_week, days=-1),
        tuple((group, tuple(item for item in of_phase if item.group_id == group.pk)) for group in groups),
    )


def _number(season: SeasonPlan, monday: date) -> int | None:
    return week_of_season(first_monday=season.first_monday, weeks=season.weeks, monday=monday)
