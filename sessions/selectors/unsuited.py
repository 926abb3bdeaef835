"""What coaches noted as not suiting athletes: wordings and points."""

from collections import defaultdict
from collections.abc import Collection
from uuid import UUID

from athletes.viewer import Viewer
from sessions.core.progress.unsuited import Note
from sessions.models import Unsuited


def unsuited_of(*, viewer: Viewer, athlete_ids: Collection[UUID]) -> dict[UUID, tuple[Unsuited, ...]]:
    """By athlete, points first, the latest first; one query. The caller has asked whether form history may be used."""
    rows = Unsuited.objects.filter(club=viewer.club_id, athlete__in=athlete_ids).select_related("feature")
    found: dict[UUID, tuple[Unsuited, ...]] = defaultdict(tuple)
    for row in sorted(rows.order_by("-since", "id"), key=lambda one: bool(one.words)):
        found[row.athlete_id] += (row,)
    return found


def notes_of(rows: Collection[Unsuited]) -> list[Note]:
    """The rows as the core compares them."""
    return [Note(row.feature.code, row.words) for row in rows]
