"""The event groups of training sessions, read for many at once."""

from collections import defaultdict
from collections.abc import Sequence
from uuid import UUID

from athletes.models import EventGroup
from sessions.models import TrainingSession
from teamtrack.common.composed import ComposedAmong, hold_related

_JOINED = TrainingSession.groups.through
_OF_SESSIONS = ComposedAmong(
    lambda sessions: (
        _JOINED.objects.filter(trainingsession__pk__in=sessions)
        .select_related("eventgroup")
        .order_by(*(f"eventgroup__{name}" for name in EventGroup._meta.ordering))
    ),
    TrainingSession._meta.pk,
)


def read_groups(training_sessions: Sequence[TrainingSession]) -> None:
    """Read the groups of training sessions, so that `groups.all()` of each asks nothing; one query."""
    found: dict[UUID, list[EventGroup]] = defaultdict(list)
    for pair in _OF_SESSIONS.rows({one.pk for one in training_sessions}):
        found[pair.trainingsession_id].append(pair.eventgroup)
    everybody = EventGroup.objects.all()
    for one in training_sessions:
        hold_related(one, "groups", found[one.pk], everybody)
