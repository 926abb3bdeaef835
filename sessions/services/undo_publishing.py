"""Takes a publishing back as long as nobody acted on it: sessions as they were, and nobody is told."""

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.models import Person
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import weeks_visible_to
from sessions.models import Notice, Publishing, TrainingSession, WeekPlan
from sessions.selectors.publishings import has_been_acted_on, newest_publishing
from sessions.services.session_snapshot import put_back
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.row_security import rows_open


@transaction.atomic
def undo_publishing(*, viewer: Viewer, publishing_id: UUID) -> Publishing:
    """Put the week's sessions back to what was published before; the draft stays as it is.

    Raises Refused where it is not the newest, or somebody saw it, was told of it, or said or recorded something since.
    """
    found = Publishing.objects.filter(pk=publishing_id, week__in=weeks_visible_to(viewer)).first()
    if found is None:
        raise NotFound()
    week = WeekPlan.objects.select_for_update().get(pk=found.week_id)
    newest = newest_publishing(week=week)
    if newest is None or newest.pk != found.pk:
        raise Refused("NOT_THE_LAST", str(_("Only the last publishing can be undone. Nothing was changed.")))
    if has_been_acted_on(viewer, found):
        text = _("Somebody has seen it already, so it cannot be undone: change the draft and publish again.")
        raise Refused("ACTED_ON", str(text))
    _put_sessions_back(found)
    WeekPlan.objects.filter(pk=week.pk).update(**found.state)
    Publishing.objects.filter(pk=found.pk).update(undone_at=viewer.now)
    log_acts(viewer=viewer, acts=[Act("undo_publish", "week", None, ("training_sessions",))])
    return found


def _put_sessions_back(publishing: Publishing) -> None:
    sessions = {str(row.demand_id): row for row in TrainingSession.objects.filter(demand__in=publishing.before)}
    with rows_open(people=list(Person.objects.filter(club=publishing.club_id).values_list("pk", flat=True))):
        Notice.objects.filter(training_session__in=sessions.values(), made_at=publishing.at).delete()
        for demand, snapshot in publishing.before.items():
            training_session = sessions.get(demand)
            if training_session is None:
                continue
            if snapshot is None:
                training_session.delete()
            else:
                put_back(training_session, snapshot)
