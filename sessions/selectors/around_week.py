"""What already stands in the calendar round a week: published meets and training sessions."""

from django.db.models import Prefetch

from athletes.viewer import Viewer
from sessions.access import training_sessions_visible_to
from sessions.core.stretches import Stretch
from sessions.models import SessionCoach, TrainingSession


def published_around(*, viewer: Viewer, span: Stretch) -> list[TrainingSession]:
    """The published ones that touch the span, in order, with groups, coaches and roster; four queries."""
    rows = training_sessions_visible_to(viewer).filter(
        state=TrainingSession.State.PUBLISHED, ends_at__gt=span[0], starts_at__lt=span[1]
    )
    leading = Prefetch("session_coaches", SessionCoach.objects.filter(taken_off_at__isnull=True))
    return list(rows.prefetch_related("groups", "session_athletes", leading).order_by("starts_at", "id"))
