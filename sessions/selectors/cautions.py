"""What is to be heeded today: thunder heard, counted to thirty minutes, and heat; what to do, never a forecast."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

from athletes.models import Club
from athletes.viewer import Viewer
from sessions.models import Caution
from teamtrack.common.composed import Composed, Given

AFTER_THUNDER = timedelta(minutes=30)
"""Nobody goes out before thirty minutes have passed since the last thunder (common practice, no source)."""
_AT = Caution._meta.get_field("at")
_SAID = Composed(
    lambda: (
        Caution.objects.filter(
            club=Given("club", Club._meta.pk),
            at__gte=Given("begins", _AT),
            at__lte=Given("now", _AT),
            taken_back_at=None,
        )
        .select_related("by")
        .order_by("at", "id")
    )
)


@dataclass(frozen=True)
class Today:
    """The cautions that hold: the last thunder of today with when its half hour ends, and since when heat was said."""

    thunder: Caution | None = None
    heat: Caution | None = None
    over_at: datetime | None = None
    seconds_left: int = 0


def cautions_of_today(viewer: Viewer) -> Today:
    """What the club said today, or within the half hour before, that was not taken back; one query."""
    midnight = datetime.combine(viewer.today, time(), viewer.now.tzinfo)
    begins = min(midnight.astimezone(UTC), viewer.now - AFTER_THUNDER)
    found = {row.kind: row for row in _SAID.rows(club=viewer.club_id, begins=begins, now=viewer.now)}
    thunder = found.get(Caution.Kind.THUNDER)
    over_at = thunder.at + AFTER_THUNDER if thunder else None
    left = max(0, int((over_at - viewer.now).total_seconds())) if over_at else 0
    return Today(thunder, found.get(Caution.Kind.HEAT), over_at, left)
