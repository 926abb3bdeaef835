"""What an event group has by default at a technique session: its numbers, and which features it looks for."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from athletes.models import EventGroup
from athletes.viewer import Viewer
from sessions.models import Feature, GroupSettings


@dataclass(frozen=True)
class GroupDefaults:
    """What a coach sets for one group; `looks_for` holds ids of the club's features in use."""

    strides: int
    rest_s: int
    run_cm: int
    effort_low_pct: int | None
    effort_high_pct: int | None
    effort_words: str
    at_once: int
    strides_a_feature: int
    looks_for: frozenset[UUID]


NUMBERS = (
    "strides",
    "rest_s",
    "run_cm",
    "effort_low_pct",
    "effort_high_pct",
    "effort_words",
    "at_once",
    "strides_a_feature",
)


def group_defaults(*, viewer: Viewer, group: EventGroup) -> GroupDefaults:
    """What holds for the group now; where nobody has set anything, what every group begins with."""
    settings = settings_of([group]).get(group.pk) or GroupSettings()
    features = features_in_use(club_id=viewer.club_id, day=viewer.today)
    return GroupDefaults(
        **{name: getattr(settings, name) for name in NUMBERS},
        looks_for=frozenset(one.pk for one in features if looks_for(one, group, settings)),
    )


def settings_of(groups: Iterable[EventGroup]) -> dict[UUID, GroupSettings]:
    """By group, what was set, with the features left out."""
    rows = GroupSettings.objects.filter(group__in=list(groups)).prefetch_related("left_out")
    return {one.group_id: one for one in rows}


def features_in_use(*, club_id: UUID, day: date) -> list[Feature]:
    """The club's features that are not retired on a day, with the groups that they are meant for."""
    rows = Feature.objects.filter(club=club_id).prefetch_related("groups")
    return [one for one in rows if one.retired_on is None or one.retired_on > day]


def looks_for(feature: Feature, group: EventGroup | None, settings: GroupSettings) -> bool:
    """Whether a group looks for a feature: one meant for it or for all groups, and not left out by its coach."""
    meant_for = list(feature.groups.all())
    is_meant = not meant_for or group in meant_for
    return is_meant and (feature.pk not in _left_out(settings))


def looked_for(
    features: Iterable[Feature], groups: Iterable[EventGroup], settings: Mapping[UUID, GroupSettings]
) -> list[Feature]:
    """The features that at least one of the groups looks for."""
    by_group = [(group, settings.get(group.pk) or GroupSettings()) for group in groups]
    return [one for one in features if any(looks_for(one, group, own) for group, own in by_group)]


def _left_out(settings: GroupSettings) -> set[UUID]:
    """Ids of the features left out; of settings that nobody has saved, none."""
    return set() if settings._state.adding else {one.pk for one in settings.left_out.all()}
