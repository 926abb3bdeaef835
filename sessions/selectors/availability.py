"""What is possible for whom: the latest word about each athlete and training session."""

from collections.abc import Collection, Iterable
from uuid import UUID

from django.db.models import Q

from athletes.access import answers_for
from athletes.models import Person
from athletes.viewer import Viewer
from sessions.models import Availability, TrainingSession


def latest_availability(
    *, training_sessions: Collection[TrainingSession], athlete_ids: Iterable[UUID], but: Collection[UUID] = ()
) -> dict[tuple[UUID, UUID], Availability]:
    """By session and athlete: the last word said about it, or about a stretch of time in which it lies, leaving out the
    words `but`; one query."""
    if not training_sessions:
        return {}
    first = min(training_session.starts_at for training_session in training_sessions)
    last = max(training_session.ends_at for training_session in training_sessions)
    spoken = Availability.objects.filter(athlete__in=athlete_ids, ends_at__gt=first, starts_at__lt=last)
    about = Q(training_session__in=training_sessions) | Q(training_session=None)
    found: dict[tuple[UUID, UUID], Availability] = {}
    for word in spoken.filter(about).exclude(pk__in=but).order_by("said_at", "id"):
        for training_session in training_sessions:
            if _is_about(word, training_session):
                found[training_session.pk, word.athlete_id] = word
    return found


def said_not_coming(
    *, viewer: Viewer, training_sessions: Collection[TrainingSession], athletes: Collection[Person]
) -> set[tuple[UUID, UUID]]:
    """By session and athlete who said last not to come to it, of those whose availability the viewer may use."""
    allowed = answers_for(viewer=viewer, athletes=athletes, purposes=["availability"]).allowed_ids("availability")
    words = latest_availability(training_sessions=training_sessions, athlete_ids=allowed)
    return {key for key, word in words.items() if word.state == Availability.State.NOT_TODAY}


def _is_about(word: Availability, training_session: TrainingSession) -> bool:
    if word.training_session_id is not None:
        return word.training_session_id == training_session.pk
    return word.starts_at < training_session.ends_at and training_session.starts_at < word.ends_at
