"""Meets: the coming ones with their closing days, and one meet with who is entered in what."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Count

from athletes.access import athletes_visible_to
from athletes.models import EventGroup, GroupMembership, Person
from athletes.viewer import Viewer, in_force
from sessions.access import get_meet, groups_set_by, meets_planned_by, seasons_planned_by
from sessions.core.iso_week import monday_of
from sessions.core.season import week_of_season
from sessions.models import Meet, MeetEntry, TrainingSession

GONE = timedelta(days=60)
"""How long a meet stays on the list, so that results can be typed in."""
SOON_DAYS = 7
"""From when on a closing day stands out (common practice, no source)."""


@dataclass(frozen=True)
class MeetLine:
    """One meet on the list; `season` where a meet to come is moved with what that does to every week."""

    training_session: TrainingSession
    closes_on: date | None
    entered: int
    is_over: bool
    season: UUID | None = None
    closes_in: int | None = None

    @property
    def closes_soon(self) -> bool:
        """Whether entries close within a week."""
        return self.closes_in is not None and 0 <= self.closes_in <= SOON_DAYS


@dataclass(frozen=True)
class Entered:
    """One athlete at a meet with the events; `minutes` is the work that the meet is for them, where it is known."""

    athlete: Person
    entries: tuple[MeetEntry, ...]

    @property
    def minutes(self) -> int | None:
        known = [entry.minutes for entry in self.entries if entry.minutes]
        return sum(known) if known else None


@dataclass(frozen=True)
class MeetPage:
    """One meet: who is entered, and who could be."""

    training_session: TrainingSession
    meet: Meet
    entered: tuple[Entered, ...]
    others: tuple[Person, ...]
    hidden: int


def meet_list(viewer: Viewer) -> list[MeetLine]:
    """The coming meets and those of the last two months, in order of time; a fixed number of queries."""
    moving, today = _Moving(viewer), viewer.today
    rows = meets_planned_by(viewer).filter(ends_at__gt=viewer.now - GONE).select_related("venue", "meet")
    counted = rows.annotate(entered=Count("session_athletes", distinct=True)).prefetch_related("groups")
    return [
        MeetLine(
            row,
            closes := _closes(row),
            row.entered,
            is_over=row.ends_at <= viewer.now,
            season=moving.season_for(row),
            closes_in=(closes - today).days if closes else None,
        )
        for row in counted.order_by("starts_at", "id")
    ]


class _Moving:
    """In which of the viewer's seasons a meet is moved."""

    def __init__(self, viewer: Viewer) -> None:
        self.viewer, self.seasons = viewer, list(seasons_planned_by(viewer))

    def season_for(self, meet: TrainingSession) -> UUID | None:
        """The season that holds its day, else that of today, else the one that begins last; none where the meet has
        begun or is called off."""
        if meet.is_called_off or meet.starts_at <= self.viewer.now:
            return None
        for day in (meet.starts_at.astimezone(ZoneInfo(self.viewer.club.timezone)).date(), self.viewer.today):
            for one in self.seasons:
                if week_of_season(first_monday=one.first_monday, weeks=one.weeks, monday=monday_of(day)) is not None:
                    return one.pk
        return self.seasons[0].pk if self.seasons else None


def season_to_move_in(viewer: Viewer, meet: TrainingSession) -> UUID | None:
    """In which of the viewer's seasons this meet is moved; None where in none."""
    return _Moving(viewer).season_for(meet)


def _closes(row: TrainingSession) -> date | None:
    return row.meet.entries_close_on if hasattr(row, "meet") else None


def meet_page(*, viewer: Viewer, session_id: UUID) -> MeetPage:
    """One meet that the viewer plans; athletes whose record the viewer may not use are only counted."""
    training_session = get_meet(viewer, session_id)
    meet = getattr(training_session, "meet", None) or Meet(training_session=training_session)
    visible = {person.pk: person for person in athletes_visible_to(viewer)}
    entries: dict[UUID, list[MeetEntry]] = defaultdict(list)
    for entry in MeetEntry.objects.filter(training_session=training_session):
        entries[entry.athlete_id].append(entry)
    coming = set(training_session.session_athletes.exclude(comes="away").values_list("athlete_id", flat=True))
    entered = [Entered(person, tuple(entries[pk])) for pk, person in visible.items() if pk in coming]
    own = _members(training_session)
    others = [person for pk, person in visible.items() if pk in own and pk not in coming]
    return MeetPage(training_session, meet, tuple(entered), tuple(others), hidden=len(coming - visible.keys()))


def _members(training_session: TrainingSession) -> set[UUID]:
    """The members of the meet's groups on its day."""
    groups = [group.pk for group in training_session.groups.all()]
    rows = GroupMembership.objects.filter(in_force(training_session.starts_at.date()), group__in=groups)
    return set(rows.values_list("athlete_id", flat=True))


def groups_for_meets(viewer: Viewer) -> Sequence[EventGroup]:
    """The groups whose meets the viewer plans."""
    return list(groups_set_by(viewer))


def own_minutes(training_sessions: Sequence[TrainingSession]) -> dict[UUID, dict[UUID, int]]:
    """By meet and athlete the minutes that their events are; of sessions that access gave, one query."""
    meets = [row.pk for row in training_sessions if row.kind == "meet"]
    found: dict[UUID, dict[UUID, int]] = defaultdict(lambda: defaultdict(int))
    if meets:
        rows = MeetEntry.objects.filter(training_session__in=meets, minutes__gt=0)
        for meet, athlete, minutes in rows.values_list("training_session_id", "athlete_id", "minutes"):
            found[meet][athlete] += minutes
    return found
