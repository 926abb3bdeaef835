"""Training sessions page by page, in order of time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID

from django.db.models import Q, QuerySet

from athletes.viewer import Viewer
from sessions.models import TrainingSession
from teamtrack.common.errors import NotFound

PAGE_SIZE = 50


@dataclass(frozen=True)
class SessionsPageRows:
    """One page; `next` is the id to go on after, None at the end."""

    items: Sequence[TrainingSession]
    next: UUID | None


def sessions_page(
    *,
    viewer: Viewer,
    visible: QuerySet[TrainingSession],
    first_day: date,
    last_day: date | None = None,
    after: UUID | None = None,
) -> SessionsPageRows:
    """Of the visible training sessions those of some days of the club, after the one named."""
    zone = viewer.now.tzinfo
    rows = visible.filter(ends_at__gt=datetime.combine(first_day, time(), zone))
    if last_day is not None:
        rows = rows.filter(starts_at__lt=datetime.combine(last_day + timedelta(days=1), time(), zone))
    if after is not None:
        rows = rows.filter(_behind(visible, after))
    found = list(rows.select_related("venue").prefetch_related("groups").order_by("starts_at", "id")[: PAGE_SIZE + 1])
    items = found[:PAGE_SIZE]
    return SessionsPageRows(items, items[-1].pk if len(found) > PAGE_SIZE else None)


def _behind(visible: QuerySet[TrainingSession], after: UUID) -> Q:
    named = visible.filter(pk=after).first()
    if named is None:
        raise NotFound()
    return Q(starts_at__gt=named.starts_at) | Q(starts_at=named.starts_at, pk__gt=named.pk)
