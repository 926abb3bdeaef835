"""Emergency access: pain notes are opened because the athlete cannot answer, for half an hour, with the reason typed.

The one use that a no does not stop, so the family, the admins and the welfare lead are told in the same transaction.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.access import answers_for
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import ContactNumber, Guardianship, Person, StaffRole
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer, in_force, viewer_for
from sessions.access import answers_in_emergency, get_athlete_in_emergency
from sessions.models import EmergencyAccess, Notice
from sessions.selectors.emergencies import newest_of
from sessions.services.mail_emergency import TASK
from sessions.services.read_health_notes import HealthNote, read_health_notes
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.jobs import add_job
from teamtrack.common.row_security import rows_open

OPEN_FOR = timedelta(minutes=30)
"""Until help has come and was told (the house's own choice, no source); then it is opened anew, with a reason."""

TOLD_OF_CLUB = (Role.ADMIN, Role.WELFARE)


@dataclass(frozen=True)
class Emergency:
    """The page: `last` is what this viewer opened last; `notes` are read where it is open, or where the viewer may read
    them without an emergency (`sees_anyway`), else none."""

    athlete: Person
    numbers: tuple[ContactNumber, ...]
    last: EmergencyAccess | None
    is_open: bool
    notes: list[HealthNote]
    sees_anyway: bool


@transaction.atomic
def read_emergency(*, viewer: Viewer, athlete_id: UUID) -> Emergency:
    """Whom to ring, and the pain notes while the viewer has them open; each read, of numbers too, is logged before
    anything is sent.

    Raises NotFound for whoever may not open them.
    """
    athlete, answers = get_athlete_in_emergency(viewer, athlete_id)
    last = newest_of(viewer, athlete)
    sees_anyway = answers.may(athlete.pk, "health")
    reader, is_open = viewer, False
    if not sees_anyway and last is not None and _is_open(last, viewer):
        reader, answers = _in_emergency(viewer), answers_in_emergency(viewer, athlete, cannot_answer=True)
        is_open = answers.may(athlete.pk, "health")
    notes = read_health_notes(viewer=reader, athlete_id=athlete.pk, answers=answers)
    numbers = tuple(ContactNumber.objects.filter(athlete=athlete))
    if numbers:
        log_acts(viewer=viewer, acts=[Act("read", "contact", athlete.pk, ("name", "phone"))])
    return Emergency(athlete, numbers, last, is_open, notes, sees_anyway)


@transaction.atomic
def open_in_emergency(*, viewer: Viewer, athlete_id: UUID, reason: str, cannot_answer: bool) -> EmergencyAccess:
    """Open an athlete's pain notes for half an hour and tell everybody concerned; a second tap changes nothing.

    Raises NotFound as above, Refused where the athlete can answer, the decision says no, or the reason is missing.
    """
    athlete, answers = get_athlete_in_emergency(viewer, athlete_id)
    if answers.may(athlete.pk, "health"):
        raise Refused("NOT_NEEDED", _("You may read these notes anyway. Nothing was opened, nobody was told."))
    Person.objects.select_for_update(no_key=True).get(pk=athlete.pk)
    last = newest_of(viewer, athlete)
    if last is not None and _is_open(last, viewer):
        return last
    decided = answers_in_emergency(viewer, athlete, cannot_answer=cannot_answer).answer(athlete.pk, "health")
    if not decided.may:
        raise Refused(decided.code, sentence_for(decided.code))
    if not reason.strip():
        raise Refused("CHECK_FIELDS", _("Write in a few words what has happened. Nothing was opened."))
    row = EmergencyAccess(
        club_id=viewer.club_id, athlete=athlete, opened_by=viewer.person, opened_as=viewer.role, reason=reason.strip(),
        opened_at=viewer.now, until=viewer.now + OPEN_FOR,
    )  # fmt: skip
    with rows_open(people=[athlete.pk]):
        row.save(force_insert=True)
        Notice.objects.bulk_create(
            Notice(
                club_id=viewer.club_id, to_id=person_id, kind=Notice.Kind.EMERGENCY, about=athlete, entry_id=row.pk,
                made_at=viewer.now,
            )
            for person_id in sorted(set(_concerned(viewer, athlete)) - {viewer.person_id})
        )  # fmt: skip
    add_job(club_id=viewer.club_id, task=TASK, target_id=athlete.pk)
    acts = [Act("open", "emergency_access", athlete.pk, ("reason", "until"), str(decided.code))]
    log_acts(viewer=_in_emergency(viewer), acts=acts)
    return row


@transaction.atomic
def close_emergency(*, viewer: Viewer, athlete_id: UUID) -> None:
    """Close what the viewer has open before its time; where nothing is open nothing changes."""
    athlete, _answers = get_athlete_in_emergency(viewer, athlete_id)
    mine = EmergencyAccess.objects.filter(athlete=athlete, opened_by=viewer.person_id, ended_at=None)
    with rows_open(people=[athlete.pk]):
        closed = mine.filter(until__gt=viewer.now).update(ended_at=viewer.now)
    if closed:
        log_acts(viewer=_in_emergency(viewer), acts=[Act("closed", "emergency_access", athlete.pk, ("ended_at",))])


def _is_open(row: EmergencyAccess, viewer: Viewer) -> bool:
    return row.ended_at is None and row.opened_at <= viewer.now < row.until


def _in_emergency(viewer: Viewer) -> Viewer:
    """The role in which the log names whoever opens and reads."""
    return replace(viewer, role=ActingRole.EMERGENCY_ACCESS.value)


def _concerned(viewer: Viewer, athlete: Person) -> Iterator[UUID]:
    """The athlete, the guardians whom the club may tell about the athlete, the admins and the welfare leads."""
    yield athlete.pk
    links = Guardianship.objects.filter(in_force(viewer.today), athlete=athlete).select_related("guardian__club")
    for link in links:
        try:
            guardian = viewer_for(link.guardian, Role.GUARDIAN)
        except NotFound:
            continue
        if answers_for(viewer=guardian, athletes=[athlete], purposes=["message"]).may(athlete.pk, "message"):
            yield link.guardian_id
    held = StaffRole.objects.filter(in_force(viewer.today), club=viewer.club_id, role__in=TOLD_OF_CLUB)
    yield from held.values_list("person_id", flat=True)
