"""The sessions of a week as a page lists them: the draft's places, and what else is published round them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from athletes.models import Club, EventGroup, Person
from athletes.viewer import Viewer
from sessions.access import training_sessions_visible_to
from sessions.core.iso_week import IsoWeek
from sessions.core.recovery import Dated
from sessions.core.week_changes import Place
from sessions.models import Demand, SessionCoach, TrainingSession, WeekPlan
from sessions.selectors.session_groups import read_groups
from sessions.words import place_name, session_name
from teamtrack.common.composed import Composed, ComposedAmong, Given

BEFORE = timedelta(days=7)
_LEADING = ComposedAmong(
    lambda sessions: SessionCoach.objects.filter(
        training_session__pk__in=sessions, taken_off_at__isnull=True
    ).select_related("coach"),
    TrainingSession._meta.pk,
)
_GROUPS = Composed(lambda: EventGroup.objects.filter(club=Given("club", Club._meta.pk)).select_related("settings"))


@dataclass(frozen=True)
class WeekItem:
    """One session with its place, None for what only stands in the published calendar; `published_id` is the session
    that takes place for a demand."""

    id: str
    name: str
    groups: tuple[UUID, ...]
    kind: str
    also: tuple[str, ...]
    starts_at: datetime
    ends_at: datetime
    venue: str
    coaches: tuple[str, ...]
    place: Place | None = None
    coach_ids: tuple[UUID, ...] = ()
    is_pinned: bool = False
    published_id: UUID | None = None

    @property
    def dated(self) -> Dated:
        return Dated(self.id, frozenset({self.kind, *self.also}), self.starts_at, self.ends_at)


def groups_of_club(viewer: Viewer) -> list[EventGroup]:
    """The club's event groups in their order, with their settings."""
    return _GROUPS.rows(club=viewer.club_id)


def published_items(*, viewer: Viewer, week: IsoWeek, but_of: WeekPlan | None = None) -> list[WeekItem]:
    """What is published in the week and the seven days before, as far as the viewer may know of it; three queries.

    Sessions of the demands of `but_of` are left out: its draft has them.
    """
    rows = (
        training_sessions_visible_to(viewer)
        .filter(
            state=TrainingSession.State.PUBLISHED,
            starts_at__gte=week.starts_at - BEFORE,
            starts_at__lt=week.ends_at,
        )
        .select_related("venue")
    )
    if but_of is not None:
        rows = rows.exclude(demand__week=but_of)
    found = list(rows.order_by("starts_at", "id"))
    read_groups(found)
    leading = defaultdict(list)
    for one in _LEADING.rows([row.pk for row in found]):
        leading[one.training_session_id].append(one.coach)
    return [_published_item(row, leading[row.pk]) for row in found]


def draft_items(
    *, demands: Iterable[Demand], places: Mapping[str, Place], published: Iterable[WeekItem], venues: Mapping[str, str]
) -> list[WeekItem]:
    """The places of a draft, or of a proposal, among what else is published, in order of time."""
    placed = [_placed_item(demand, places[str(demand.pk)], venues) for demand in demands if str(demand.pk) in places]
    return sorted([*placed, *published], key=lambda item: (item.starts_at, item.id))


def _placed_item(demand: Demand, place: Place, venues: Mapping[str, str]) -> WeekItem:
    names = {str(coach.pk): coach.full_name for coach in demand.coaches.all()}
    return WeekItem(
        id=str(demand.pk),
        name=demand.group.name,
        groups=(demand.group_id,),
        kind=demand.kind,
        also=tuple(demand.also),
        starts_at=place.starts_at,
        ends_at=place.ends_at,
        venue=venues.get(place.venue, ""),
        coaches=tuple(sorted(names[coach] for coach in place.coaches if coach in names)),
        place=place,
        coach_ids=tuple(UUID(one) for one in place.coaches),
        is_pinned=demand.is_pinned,
        published_id=getattr(demand, "published_id", None),
    )


def _published_item(row: TrainingSession, coaches: Sequence[Person]) -> WeekItem:
    groups = list(row.groups.all())
    return WeekItem(
        id=str(row.pk),
        name=row.title or ", ".join(group.name for group in groups) or session_name(row),
        groups=tuple(group.pk for group in groups),
        kind=row.kind,
        also=tuple(row.also),
        starts_at=row.starts_at,
        ends_at=row.ends_at,
        venue=place_name(row),
        coaches=tuple(sorted(coach.full_name for coach in coaches)),
        coach_ids=tuple(coach.pk for coach in coaches),
    )
