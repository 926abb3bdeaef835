"""Tells of a pain entry those who may know it now: once each, however often the work is begun again."""

from collections.abc import Iterable
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from athletes.access import answers_for
from athletes.circumstances.relations import adult_coaches_of
from athletes.models import Guardianship, Person
from athletes.models.accounts import Role
from athletes.viewer import in_force, viewer_for
from sessions.models import Entry, Notice
from sessions.models.entries import EntryKind
from teamtrack.common.clock import today_in, utc_now
from teamtrack.common.errors import NotFound
from teamtrack.common.row_security import rows_open


@transaction.atomic
def tell_pain(*, entry_id: UUID) -> int:
    """Leave a notice, without what hurts, for each coach and guardian whom the decision lets know; answers how many.

    An entry that was withdrawn or taken away meanwhile is told to nobody, one that puts another right to those alone
    who were not told of that one.
    """
    entry = (
        Entry.objects.filter(pk=entry_id, kind=EntryKind.PAIN, withdrawn=False)
        .select_related("club", "athlete")
        .first()
    )
    if entry is None or _is_withdrawn(entry):
        return 0
    known = _told_before(entry)
    told = [
        person.pk
        for person, role in _who_could_know(entry)
        if person.pk != entry.by_id and person.pk not in known and _may_know(person, role, entry)
    ]
    notices = [
        Notice(
            club_id=entry.club_id,
            to_id=person_id,
            kind=Notice.Kind.PAIN,
            about=entry.athlete,
            training_session_id=entry.training_session_id,
            entry_id=entry.pk,
            made_at=utc_now(),
        )
        for person_id in dict.fromkeys(told)
    ]
    with rows_open(people=[entry.athlete_id]):
        Notice.objects.bulk_create(notices, ignore_conflicts=True)
    return len(told)


def _is_withdrawn(entry: Entry) -> bool:
    later = Entry.objects.filter(training_session=entry.training_session_id, replaces=entry.pk, kind=EntryKind.PAIN)
    return later.filter(withdrawn=True, by_athlete=entry.by_athlete).exists()


def _told_before(entry: Entry) -> set[UUID]:
    """Who was told of the note that this one puts right."""
    with rows_open(people=[entry.athlete_id]):
        earlier = Notice.objects.filter(kind=Notice.Kind.PAIN, entry_id=entry.replaces, about=entry.athlete_id)
        return set(earlier.values_list("to_id", flat=True)) if entry.replaces else set()


def _who_could_know(entry: Entry) -> Iterable[tuple[Person, str]]:
    """The coaches of the training session and of the athlete's groups, and the guardians."""
    today = today_in(entry.club.timezone)
    coaches = adult_coaches_of(athlete_ids=[entry.athlete_id], day=today)
    on_list = Q(session_coaches__training_session=entry.training_session_id, session_coaches__taken_off_at__isnull=True)
    for coach in Person.objects.filter(Q(pk__in=coaches) | on_list, club=entry.club_id).distinct():
        yield coach, Role.COACH
    guardians = Guardianship.objects.filter(in_force(today), athlete=entry.athlete_id).values("guardian_id")
    for guardian in Person.objects.filter(pk__in=guardians):
        yield guardian, Role.GUARDIAN


def _may_know(person: Person, role: str, entry: Entry) -> bool:
    try:
        viewer = viewer_for(person, role)
    except NotFound:
        return False
    answers = answers_for(viewer=viewer, athletes=[entry.athlete], purposes=["health"])
    return answers.may(entry.athlete_id, "health")
