"""A caller ticks whom they have told of a change by voice, and takes the tick back."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.models import Notice
from sessions.selectors.call_list import is_reached, open_changes
from teamtrack.common.errors import NotFound
from teamtrack.common.row_security import rows_open


@transaction.atomic
def tick_reached(*, viewer: Viewer, person_id: UUID, until: datetime) -> datetime:
    """The person knows of every change made up to `until`; what changed after it stays on the list. When it was ticked.

    Ticking twice changes nothing: it was ticked the first time.
    """
    rows = open_changes(viewer, person_id, until)
    if not rows:
        raise NotFound()
    waiting = [row for row in rows if not is_reached(row)]
    if not waiting:
        return max((row.reached_at for row in rows if row.reached_at), default=viewer.now)
    with rows_open(people=[person_id]):
        Notice.objects.filter(pk__in=[row.pk for row in waiting], reached_at=None).update(
            reached_at=viewer.now, reached_by=viewer.person_id
        )
    log_acts(viewer=viewer, acts=[Act("reached", "notice", person_id, ("reached_at",))])
    return viewer.now


@transaction.atomic
def take_back_tick(*, viewer: Viewer, person_id: UUID, at: datetime) -> None:
    """Put the person back on the list, as they were before the tick of that moment."""
    rows = [row.pk for row in open_changes(viewer, person_id, at) if row.reached_at == at]
    if not rows:
        raise NotFound()
    with rows_open(people=[person_id]):
        Notice.objects.filter(pk__in=rows).update(reached_at=None, reached_by=None)
    log_acts(viewer=viewer, acts=[Act("not_reached", "notice", person_id, ("reached_at",))])
