"""Marks entered and taken away: by hand or from a file, by whoever coaches the athlete's group; twice is once."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.access import athletes_visible_to, get_athlete
from athletes.core.marks import Event
from athletes.core.marks_file import MarkRow
from athletes.models import Mark, Membership, Person
from athletes.models.accounts import Role
from athletes.selectors.marks import known_keys
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import NotFound, Refused

EARLIEST_YEAR = 1950
FIELDS = ("event", "time_ms", "is_hand", "wind_tenths", "run_on")
MARK_STAFF = (Role.COACH, Role.HEAD_COACH)


@dataclass(frozen=True)
class FileMark:
    """One row of a file with the athlete whom it is about; `is_known`: the very mark is there already."""

    row: MarkRow
    athlete: Person
    is_known: bool


@dataclass(frozen=True)
class FilePreview:
    """What a file would bring: marks that are new or known; rows whose name is nobody's, or that of several people, or
    whose day cannot be."""

    marks: tuple[FileMark, ...]
    nobody: tuple[MarkRow, ...]
    several: tuple[MarkRow, ...]
    undated: tuple[MarkRow, ...]

    @property
    def new(self) -> list[FileMark]:
        return [one for one in self.marks if not one.is_known]


@transaction.atomic
def enter_mark(
    *, viewer: Viewer, athlete_id: UUID, event: str, time_ms: int, is_hand: bool, wind_tenths: int | None, run_on: date
) -> Mark:
    """Keep a mark of an athlete whose record the viewer may use; the very same again is the row that is there.

    Raises Refused for a day to come, or for a visitor, of whom no marks are kept.
    """
    viewer.must_be(*MARK_STAFF)
    athlete = get_athlete(viewer, athlete_id)
    if not _is_possible_day(viewer, run_on):
        raise Refused("CHECK_FIELDS", _("The day lies in the past, or is today. Nothing was kept."))
    if athlete.pk in _visitors(viewer, [athlete.pk]):
        raise Refused("VISITOR", _("No marks are kept of a visitor on trial. Nothing was kept."))
    wind = wind_tenths if Event(event).has_wind else None
    mark, is_new = Mark.objects.get_or_create(
        athlete=athlete, event=event, run_on=run_on, time_ms=time_ms, is_hand=is_hand,
        defaults={"club_id": viewer.club_id, "wind_tenths": wind, "entered_by": viewer.person},
    )  # fmt: skip
    if is_new:
        log_acts(viewer=viewer, acts=[Act("record", "mark", athlete.pk, FIELDS)])
    return mark


@transaction.atomic
def remove_mark(*, viewer: Viewer, mark_id: UUID) -> Mark:
    """Take a mark away; answers what it was, for whoever wants it back."""
    viewer.must_be(*MARK_STAFF)
    mark = Mark.objects.select_for_update().filter(pk=mark_id, club=viewer.club_id).first()
    if mark is None:
        raise NotFound()
    get_athlete(viewer, mark.athlete_id)
    mark.delete()
    log_acts(viewer=viewer, acts=[Act("removed", "mark", mark.athlete_id, FIELDS)])
    return mark


def preview_file(*, viewer: Viewer, rows: Sequence[MarkRow]) -> FilePreview:
    """Which marks a file would bring, of athletes whose record the viewer may use; a fixed number of queries."""
    viewer.must_be(*MARK_STAFF)
    people: dict[str, list[Person]] = defaultdict(list)
    known = athletes_visible_to(viewer)
    visitors = _visitors(viewer, [one.pk for one in known])
    for person in known:
        if person.pk not in visitors:
            for name in (person.full_name, f"{person.family_name} {person.given_name}"):
                people[_plain(name)].append(person)
    there = known_keys(viewer=viewer, athlete_ids=[one.pk for one in known])
    found, nobody, several, undated = [], [], [], []
    for row in rows:
        named = {one.pk: one for one in people.get(_plain(row.name), ())}
        if not _is_possible_day(viewer, row.day):
            undated.append(row)
        elif len(named) != 1:
            (several if named else nobody).append(row)
        else:
            [athlete] = named.values()
            key = (athlete.pk, row.event.value, row.day, row.time_ms, row.is_hand)
            found.append(FileMark(row, athlete, key in there))
            there.add(key)
    return FilePreview(tuple(found), tuple(nobody), tuple(several), tuple(undated))


@transaction.atomic
def apply_file(*, viewer: Viewer, rows: Sequence[MarkRow]) -> int:
    """Keep every mark of a file, or none: Refused where a row is nobody's. Answers how many are new."""
    preview = preview_file(viewer=viewer, rows=rows)
    if preview.nobody or preview.several or preview.undated:
        raise Refused("CHECK_FIELDS", _("A row of the file cannot be taken. Nothing was kept."))
    Mark.objects.bulk_create(
        [
            Mark(
                club_id=viewer.club_id, athlete=one.athlete, event=one.row.event.value, time_ms=one.row.time_ms,
                is_hand=one.row.is_hand, run_on=one.row.day, entered_by=viewer.person,
                wind_tenths=one.row.wind_tenths if one.row.event.has_wind else None,
            )
            for one in preview.new
        ],
        ignore_conflicts=True,
    )  # fmt: skip
    people = {one.athlete.pk for one in preview.new}
    log_acts(viewer=viewer, acts=[Act("record", "mark", person, FIELDS) for person in sorted(people)])
    return len(preview.new)


def _visitors(viewer: Viewer, athlete_ids: Sequence[UUID]) -> set[UUID]:
    """Those of the athletes who are on trial today."""
    rows = Membership.objects.filter(in_force(viewer.today), athlete__in=athlete_ids, is_trial=True)
    return set(rows.values_list("athlete_id", flat=True))


def _is_possible_day(viewer: Viewer, day: date) -> bool:
    return day <= viewer.today and day.year >= EARLIEST_YEAR


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace(",", " ").split())
