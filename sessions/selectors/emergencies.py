"""What was opened in an emergency: for whoever opened it, whoever was told, and the admin and welfare lead."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from athletes.access import answers_for
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.selectors.todo import Due, register_urgent
from athletes.viewer import Viewer
from sessions.access import athletes_in_emergency
from sessions.models import EmergencyAccess, Notice
from teamtrack.common.row_security import rows_open

LOOKS_BACK = timedelta(days=365)
"""As long as what was told is kept (the permissions contract, `message`)."""


@dataclass(frozen=True)
class Opened:
    """One opening; `notice` is what the viewer was told and has not seen yet."""

    row: EmergencyAccess
    notice: Notice | None = None


@dataclass(frozen=True)
class Emergencies:
    """What was opened, newest first, and for whom the viewer could open."""

    opened: tuple[Opened, ...]
    athletes: tuple[Person, ...]


def newest_of(viewer: Viewer, athlete: Person) -> EmergencyAccess | None:
    """What the viewer opened last of an athlete, within a day."""
    mine = EmergencyAccess.objects.filter(club=viewer.club_id, athlete=athlete, opened_by=viewer.person_id)
    with rows_open(people=[athlete.pk]):
        return mine.filter(opened_at__gt=viewer.now - timedelta(days=1)).first()


def told_of_emergencies(viewer: Viewer) -> list[Opened]:
    """What the viewer was told in this role and has not seen, newest first; one query where there is nothing."""
    notices = _unseen(viewer)
    if not notices:
        return []
    people: list[Person] = list({one.about_id: one.about for one in notices if one.about}.values())
    answers = answers_for(viewer=viewer, athletes=people, purposes=["message"])
    rows = {row.pk: row for row in _rows(viewer, answers.allowed_ids("message"))}
    return [Opened(rows[one.entry_id], one) for one in notices if one.entry_id in rows]


def emergencies(viewer: Viewer) -> Emergencies:
    """The last twelve months, for an admin or welfare lead; of a coach the own. A fixed number of queries."""
    athletes = athletes_in_emergency(viewer)
    unseen = {one.entry_id: one for one in _unseen(viewer)}
    rows = _rows(viewer, {one.pk for one in athletes})
    if viewer.role == Role.COACH:
        rows = [row for row in rows if row.opened_by_id == viewer.person_id]
    return Emergencies(tuple(Opened(row, unseen.get(row.pk)) for row in rows), tuple(athletes))


@register_urgent
def emergencies_to_see(viewer: Viewer) -> Iterable[Due]:
    for one in told_of_emergencies(viewer):
        said = {"by": one.row.opened_by.full_name, "name": one.row.athlete.full_name}
        text = _("%(by)s opened the pain notes of %(name)s in an emergency: read why, speak to the family.") % said
        day = one.row.opened_at.astimezone(viewer.now.tzinfo).date()
        yield Due(day, text, _("Read why"), reverse(f"{viewer.role}-emergencies"))


def _unseen(viewer: Viewer) -> list[Notice]:
    rows = Notice.objects.filter(
        to=viewer.person_id, club=viewer.club_id, kind=Notice.Kind.EMERGENCY, seen_at=None
    ).select_related("about")
    with rows_open(people=[viewer.person_id]):
        return list(rows)


def _rows(viewer: Viewer, athlete_ids: Collection[UUID]) -> list[EmergencyAccess]:
    rows = EmergencyAccess.objects.filter(
        club=viewer.club_id, athlete__in=athlete_ids, opened_at__gt=viewer.now - LOOKS_BACK
    ).select_related("athlete", "opened_by")
    with rows_open(people=athlete_ids):
        return list(rows)
