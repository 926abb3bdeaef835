"""Sessions still to come whose coach has said not to come then: what the head coach has to mend."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.models import Person
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.models import CoachAbsence, Placement, SessionCoach, TrainingSession
from sessions.week_words import session_words
from sessions.words import session_name


@dataclass(frozen=True)
class Led:
    """One session that the coach was to lead; `in_week`: a week's plan has it, and can be mended."""

    id: UUID
    name: str
    starts_at: datetime
    ends_at: datetime
    in_week: bool


@dataclass(frozen=True)
class CoachOut:
    """A coach who cannot come on a date, and what they were to lead then, in order of time; `week` as in ISO 8601."""

    coach: Person
    day: date
    week: str
    sessions: tuple[Led, ...]

    @property
    def in_week(self) -> bool:
        return any(one.in_week for one in self.sessions)


def coaches_out(viewer: Viewer) -> list[CoachOut]:
    """By date, earliest first, of sessions published, and of drafts that are not yet; three queries at most."""
    absences: dict[UUID, list[CoachAbsence]] = defaultdict(list)
    rows = CoachAbsence.objects.filter(club=viewer.club_id, ends_at__gt=viewer.now).select_related("coach")
    for row in rows:
        absences[row.coach_id].append(row)
    if not absences:
        return []
    zone = ZoneInfo(viewer.club.timezone)
    found: dict[tuple[date, UUID], list[Led]] = defaultdict(list)
    for coach_id, led in (*_published(viewer, absences), *_drafted(viewer, absences)):
        if any(row.starts_at < led.ends_at and led.starts_at < row.ends_at for row in absences[coach_id]):
            found[led.starts_at.astimezone(zone).date(), coach_id].append(led)
    return [
        CoachOut(
            absences[coach_id][0].coach, day, IsoWeek(monday_of(day), zone).label,
            tuple(sorted(sessions, key=lambda led: (led.starts_at, led.id))),
        )
        for (day, coach_id), sessions in sorted(found.items())
    ]  # fmt: skip


def _published(viewer: Viewer, coach_ids: Iterable[UUID]) -> list[tuple[UUID, Led]]:
    rows = SessionCoach.objects.filter(
        coach__in=coach_ids, taken_off_at=None, training_session__club=viewer.club_id,
        training_session__state=TrainingSession.State.PUBLISHED, training_session__starts_at__gt=viewer.now,
    )  # fmt: skip
    rows = rows.select_related("training_session").prefetch_related("training_session__groups")
    return [(row.coach_id, _led(row.training_session)) for row in rows]


def _led(row: TrainingSession) -> Led:
    return Led(row.pk, session_name(row), row.starts_at, row.ends_at, row.demand_id is not None)


def _drafted(viewer: Viewer, coach_ids: Iterable[UUID]) -> list[tuple[UUID, Led]]:
    """Of drafts, what is not published: else the published session is what counts."""
    rows = Placement.coaches.through.objects.filter(
        person__in=coach_ids, placement__club=viewer.club_id, placement__starts_at__gt=viewer.now,
        placement__demand__training_session=None,
    )  # fmt: skip
    found = []
    for row in rows.select_related("placement__demand__group"):
        place, demand = row.placement, row.placement.demand
        name = session_words(demand.group.name, demand.kind, demand.also)
        found.append((row.person_id, Led(demand.pk, name, place.starts_at, place.ends_at, True)))
    return found
