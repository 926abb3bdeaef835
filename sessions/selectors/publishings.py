"""The publishings of a week: which is the newest that stands, and whether somebody acted on it."""

from athletes.models import Person
from athletes.viewer import Viewer
from sessions.models import Availability, Entry, Notice, Publishing, TrainingSession, WeekPlan
from teamtrack.common.composed import Composed, Given
from teamtrack.common.row_security import rows_open

_NEWEST = Composed(
    lambda: (
        Publishing.objects.filter(week=Given("week", WeekPlan._meta.pk), undone_at=None)
        .select_related("by")
        .defer("before", "state")[:1]
    )
)


def newest_publishing(*, week: WeekPlan) -> Publishing | None:
    """The last one that was not taken back; what it changed is long and read only where it is needed."""
    return _NEWEST.first(week=week.pk)


def has_been_acted_on(viewer: Viewer, publishing: Publishing) -> bool:
    """Whether somebody of those told saw it, was sent or told it, or anything was said or changed since."""
    sessions = list(TrainingSession.objects.filter(demand__in=publishing.before, club=viewer.club_id))
    if any(one.changed_at and one.changed_at > publishing.at for one in sessions):
        return True
    since = {"training_session__in": sessions}
    if Entry.objects.filter(**since, received_at__gte=publishing.at).exists():
        return True
    if Availability.objects.filter(**since, said_at__gte=publishing.at).exists():
        return True
    with rows_open(people=list(Person.objects.filter(club=viewer.club_id).values_list("pk", flat=True))):
        rows = Notice.objects.filter(**since, made_at__gte=publishing.at)
        untouched = rows.filter(made_at=publishing.at, seen_at=None, mailed_at=None, reached_at=None)
        return rows.count() > untouched.count()
