"""Calendar files that were read: what they would change now, and what a viewer may do with them."""

from collections.abc import Iterable
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from athletes.models import EventGroup, Squad
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from sessions.access import groups_set_by
from sessions.core.calendar_files.comparing import Entry, FileChange, Known, Name, file_changes, hours_said, meets_said
from sessions.core.calendar_files.reading import Occurrence
from sessions.models import BusyTime, CalendarItem, CalendarReading, TrainingSession, Venue, VenueClosing
from teamtrack.common.errors import NotFound

LATEST = 20
Row = TrainingSession | VenueClosing | BusyTime


def may_read_files(viewer: Viewer) -> bool:
    """Head coaches, and coaches who set a group of today, read calendar files."""
    return viewer.role in (Role.HEAD_COACH, Role.COACH) and groups_set_by(viewer).exists()


def readings_of(viewer: Viewer) -> QuerySet[CalendarReading]:
    """The files that the viewer may see: the head coach all, a coach the own."""
    rows = CalendarReading.objects.filter(club=viewer.club_id).select_related("venue", "squad", "read_by")
    return rows if viewer.role == Role.HEAD_COACH else rows.filter(read_by=viewer.person_id)


def get_reading(viewer: Viewer, reading_id: UUID) -> CalendarReading:
    """One file that the viewer may see; absent and not yours are the same."""
    found = readings_of(viewer).filter(pk=reading_id).first() if may_read_files(viewer) else None
    if found is None:
        raise NotFound()
    return found


def scope_of(reading: CalendarReading) -> str:
    """What the file's events become, and of what: rows of another scope are not theirs."""
    match reading.becomes:
        case CalendarReading.Becomes.CLOSED:
            return f"closed {reading.venue_id}"
        case CalendarReading.Becomes.BUSY:
            return f"busy {reading.squad_id or 'all'}"
    return "meets"


def changes_of(*, viewer: Viewer, reading: CalendarReading, occurrences: Iterable[Occurrence]) -> list[FileChange]:
    """What the file would change as things stand now."""
    is_meets = reading.becomes == CalendarReading.Becomes.MEETS
    zone = ZoneInfo(viewer.club.timezone)
    said = meets_said(occurrences, zone) if is_meets else hours_said(occurrences)
    return file_changes(said, known_items(viewer=viewer, reading=reading))


def known_items(*, viewer: Viewer, reading: CalendarReading) -> dict[Name, Known]:
    """What earlier files brought in the same scope."""
    items = items_of(viewer=viewer, reading=reading)
    return {name: Known(item.sequence, entry_of(row_of(item))) for name, item in items.items()}


def items_of(*, viewer: Viewer, reading: CalendarReading) -> dict[Name, CalendarItem]:
    """By name the items of the same scope, each with the row that it became; one query."""
    rows = CalendarItem.objects.filter(club=viewer.club_id, scope=scope_of(reading))
    return {(row.uid, row.instance): row for row in rows.select_related("training_session", "closing", "busy")}


def row_of(item: CalendarItem | None) -> Row | None:
    """The row that an item became."""
    return item and (item.training_session or item.closing or item.busy)


def taken_up(*, viewer: Viewer, reading: CalendarReading) -> set[UUID]:
    """The meets of the same scope in which somebody is entered, or of which something was written."""
    meets = TrainingSession.objects.filter(
        pk__in=CalendarItem.objects.filter(club=viewer.club_id, scope=scope_of(reading)).values("training_session")
    )
    return set(meets.filter(Q(last_seq__gt=0) | Q(session_athletes__isnull=False)).values_list("pk", flat=True))


def entry_of(row: Row | None) -> Entry | None:
    """What stands in the calendar; none where it was called off."""
    if row is None:
        return None
    if isinstance(row, TrainingSession):
        return None if row.is_called_off else Entry(row.starts_at, row.ends_at, row.title, row.place)
    if isinstance(row, VenueClosing):
        return Entry(row.starts_at, row.ends_at, row.reason)
    return Entry(row.starts_at, row.ends_at, row.title)


def as_text(entry: Entry | None) -> dict[str, Any] | None:
    """An entry as a reading's row holds it."""
    if entry is None:
        return None
    when = {"starts_at": entry.starts_at.isoformat(), "ends_at": entry.ends_at.isoformat()}
    return when | {"title": entry.title, "place": entry.place}


def choices_of(viewer: Viewer) -> tuple[list[EventGroup], list[Venue], list[Squad]]:
    """Of which groups, venues and squads a file may speak."""
    if viewer.role != Role.HEAD_COACH:
        return list(groups_set_by(viewer)), [], []
    venues, squads = Venue.objects.filter(club=viewer.club_id), Squad.objects.filter(club=viewer.club_id)
    return list(groups_set_by(viewer)), list(venues), list(squads.order_by("name"))
