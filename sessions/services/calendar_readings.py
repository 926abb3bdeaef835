"""Reads a calendar file into the training calendar: first a look at what it would change, then done, then undone."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.models import Squad
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import groups_set_by
from sessions.core.calendar_files.comparing import Entry, FileChange, Name, What
from sessions.core.calendar_files.reading import NotACalendar, read_calendar
from sessions.models import BusyTime, CalendarItem, CalendarReading, Notice, TrainingSession, Venue, VenueClosing
from sessions.models.season import Kind
from sessions.selectors.calendar_readings import (
    Row,
    as_text,
    changes_of,
    entry_of,
    get_reading,
    items_of,
    may_read_files,
    row_of,
    scope_of,
    taken_up,
)
from sessions.services.tell_meet import concerned, tell
from teamtrack.common.errors import Conflict, NotFound, Refused

State = CalendarReading.State
LONGEST_NAME = 120
A_MOMENT = timedelta(minutes=1)
OF_HEAD_COACH = (CalendarReading.Becomes.CLOSED, CalendarReading.Becomes.BUSY)


@dataclass(frozen=True)
class Purpose:
    """What a file's events are to become: meets of some groups, hours of a venue, or of a squad (none: of all)."""

    becomes: str
    group_ids: Collection[UUID] = ()
    venue_id: UUID | None = None
    squad_id: UUID | None = None


@transaction.atomic
def look_at_file(*, viewer: Viewer, data: bytes, file_name: str, purpose: Purpose) -> CalendarReading:
    """Read a file and keep what it would change, to be looked at; nothing in the calendar changes yet.

    The very same again within a minute is the reading that is there. Raises NotFound where the viewer reads no files or
    what it is to become is not theirs, Refused for no calendar.
    """
    if not may_read_files(viewer) or (purpose.becomes in OF_HEAD_COACH and viewer.role != Role.HEAD_COACH):
        raise NotFound()
    try:
        found = read_calendar(data, zone=ZoneInfo(viewer.club.timezone), first_day=viewer.today)
    except NotACalendar as fault:
        too_large = _("The file is larger than 1 MB. Nothing was read: export fewer events.")
        no_calendar = _("This is no calendar file (it ends in .ics and begins with BEGIN:VCALENDAR). Nothing was read.")
        raise Refused("NO_CALENDAR", too_large if fault.is_too_large else no_calendar) from None
    reading = CalendarReading(
        club_id=viewer.club_id, file_name=file_name[:LONGEST_NAME], becomes=purpose.becomes, events=found.events,
        is_cut=found.is_cut, without_id=found.without_id, read_by=viewer.person, read_at=viewer.now,
        refused=[{"number": no.number, "title": no.title, "because": no.because.value} for no in found.refused],
    )  # fmt: skip
    _set_purpose(viewer, reading, purpose)
    reading.changes = [
        _as_row(one) for one in changes_of(viewer=viewer, reading=reading, occurrences=found.occurrences)
    ]
    last = CalendarReading.objects.filter(club=viewer.club_id, read_by=viewer.person_id).order_by("-read_at").first()
    if last is not None and viewer.now - last.read_at < A_MOMENT and _said(last) == _said(reading):
        return last
    reading.save(force_insert=True)
    log_acts(viewer=viewer, acts=[Act("read", "calendar_file", None, ("changes",))])
    return reading


def _said(reading: CalendarReading) -> dict[str, Any]:
    """What a reading says, but for its id and its time."""
    return {
        field.name: getattr(reading, field.attname)
        for field in reading._meta.concrete_fields
        if field.name not in ("id", "read_at")
    }


def _set_purpose(viewer: Viewer, reading: CalendarReading, purpose: Purpose) -> None:
    if purpose.becomes == CalendarReading.Becomes.MEETS:
        groups = groups_set_by(viewer).filter(pk__in=purpose.group_ids)
        reading.groups = sorted(str(pk) for pk in groups.values_list("pk", flat=True))
        if not reading.groups or len(reading.groups) != len(set(purpose.group_ids)):
            raise NotFound()
    elif purpose.becomes == CalendarReading.Becomes.CLOSED:
        reading.venue = Venue.objects.filter(club=viewer.club_id, pk=purpose.venue_id).first()
        if reading.venue is None:
            raise NotFound()
    elif purpose.squad_id is not None:
        reading.squad = Squad.objects.filter(club=viewer.club_id, pk=purpose.squad_id).first()
        if reading.squad is None:
            raise NotFound()


def _as_row(change: FileChange) -> dict[str, Any]:
    return {
        "what": change.what.value, "uid": change.name[0][:255], "instance": change.name[1], "sequence": change.sequence,
        "before": as_text(change.before), "after": as_text(change.after),
    }  # fmt: skip


@transaction.atomic
def do_reading(*, viewer: Viewer, reading_id: UUID) -> CalendarReading:
    """Do what was looked at, whole or not at all. Twice changes nothing more; Conflict where the calendar has changed
    since, so that somebody looks again."""
    reading = _claimed(viewer, reading_id, State.LOOKED_AT, State.DONE)
    if reading is None:
        return get_reading(viewer, reading_id)
    items = items_of(viewer=viewer, reading=reading)
    for change in reading.changes:
        if as_text(entry_of(_row(items, change))) != change["before"]:
            raise Conflict(
                "CALENDAR_CHANGED",
                _("The calendar has changed since this file was read. Nothing was done: read the file again."),
            )
    _do(viewer, reading, items, reading.changes)
    log_acts(viewer=viewer, acts=[Act("change", "calendar", None, (reading.becomes,))])
    return reading


@transaction.atomic
def take_back_reading(*, viewer: Viewer, reading_id: UUID) -> int:
    """Put back what a file changed; answers how many rows stay as they are because somebody changed them since, or is
    entered in them."""
    reading = _claimed(viewer, reading_id, State.DONE, State.TAKEN_BACK)
    if reading is None:
        return 0
    items, taken = items_of(viewer=viewer, reading=reading), taken_up(viewer=viewer, reading=reading)
    as_left = [one for one in reading.changes if as_text(entry_of(_row(items, one))) == one["after"]]
    made = [row for one in as_left if one["what"] == What.ADD and (row := _row(items, one)) is not None]
    gone = [row.pk for row in made if row.pk not in taken]
    for model in {type(row) for row in made}:
        model.objects.filter(pk__in=gone).delete()
    back = [one | {"after": one["before"]} for one in as_left if one["what"] != What.ADD]
    _do(viewer, reading, items, back)
    stay = len(reading.changes) - len(back) - len(gone)
    log_acts(viewer=viewer, acts=[Act("take_back", "calendar", None, (reading.becomes,))])
    return stay


def _claimed(viewer: Viewer, reading_id: UUID, before: str, after: str) -> CalendarReading | None:
    """The reading, taken from one state to the next by this request alone."""
    reading = get_reading(viewer, reading_id)
    if CalendarReading.objects.filter(pk=reading.pk, state=before).update(state=after) != 1:
        return None
    reading.state = after
    return reading


def _row(items: Mapping[Name, CalendarItem], change: Mapping[str, Any]) -> Row | None:
    return row_of(items.get((change["uid"], change["instance"])))


def _do(
    viewer: Viewer, reading: CalendarReading, items: Mapping[Name, CalendarItem], changes: Sequence[Mapping[str, Any]]
) -> None:
    """Write what stands there from now on: what is new in one go, what was there already one by one."""
    new = []
    for change in changes:
        row, item = _row(items, change), items.get((change["uid"], change["instance"]))
        if row is None or item is None:
            new.append(change)
        else:
            _set(viewer, row, _entry(change["after"]) if change["after"] else None)
            CalendarItem.objects.filter(pk=item.pk).update(sequence=change["sequence"])
    rows = [_unsaved(viewer, reading, _entry(change["after"])) for change in new]
    for model in {type(row) for row in rows}:
        model.objects.bulk_create(rows)
        if model is TrainingSession:
            links = TrainingSession.groups.through
            links.objects.bulk_create(
                links(trainingsession_id=row.pk, eventgroup_id=UUID(group)) for row in rows for group in reading.groups
            )
    CalendarItem.objects.bulk_create(
        CalendarItem(
            club_id=viewer.club_id, scope=scope_of(reading), uid=change["uid"], instance=change["instance"],
            sequence=change["sequence"], **{_FIELDS[type(row)]: row},
        )
        for change, row in zip(new, rows, strict=True)
    )  # fmt: skip


_FIELDS = {TrainingSession: "training_session", VenueClosing: "closing", BusyTime: "busy"}


def _entry(said: Mapping[str, str]) -> Entry:
    starts_at, ends_at = (datetime.fromisoformat(said[name]) for name in ("starts_at", "ends_at"))
    return Entry(starts_at, ends_at, said["title"], said["place"])


def _unsaved(viewer: Viewer, reading: CalendarReading, entry: Entry) -> Row:
    when: dict[str, Any] = {"club_id": viewer.club_id, "starts_at": entry.starts_at, "ends_at": entry.ends_at}
    if reading.becomes == CalendarReading.Becomes.CLOSED:
        return VenueClosing(venue=reading.venue, reason=entry.title, **when)
    if reading.becomes == CalendarReading.Becomes.BUSY:
        return BusyTime(squad=reading.squad, title=entry.title, **when)
    importance = TrainingSession.Importance.ORDINARY
    return TrainingSession(kind=Kind.MEET, title=entry.title, place=entry.place, importance=importance, **when)


def _set(viewer: Viewer, row: Row, entry: Entry | None) -> None:
    """Write what stands there now; what is off is called off where people may be entered, and gone elsewhere."""
    if isinstance(row, TrainingSession):
        _set_meet(viewer, row, entry)
    elif entry is None:
        type(row).objects.filter(pk=row.pk).delete()
    else:
        title = {"reason": entry.title} if isinstance(row, VenueClosing) else {"title": entry.title}
        type(row).objects.filter(pk=row.pk).update(starts_at=entry.starts_at, ends_at=entry.ends_at, **title)


def _set_meet(viewer: Viewer, meet: TrainingSession, entry: Entry | None) -> None:
    kind = Notice.Kind.ON_AGAIN if meet.is_called_off else Notice.Kind.MOVED
    if entry is None:
        meet.state, kind = TrainingSession.State.CALLED_OFF, Notice.Kind.CALLED_OFF
    else:
        meet.state = TrainingSession.State.PUBLISHED
        meet.starts_at, meet.ends_at, meet.title, meet.place = entry.starts_at, entry.ends_at, entry.title, entry.place
    meet.changed_at = viewer.now
    meet.save(update_fields=["state", "starts_at", "ends_at", "title", "place", "changed_at"])
    meet.session_athletes.update(seen_at=None)
    tell(viewer=viewer, meet=meet, told=concerned(viewer=viewer, meet=meet, kind=kind))
