"""The coming training of some athletes, as the athlete and the family see it: when, where, what changed, who comes."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from athletes.core import ages
from athletes.models import Person
from athletes.viewer import Viewer
from sessions.models import Availability, Notice, SessionAthlete, SessionCoach, TrainingSession
from sessions.selectors.availability import latest_availability
from teamtrack.common.row_security import rows_open

AHEAD = timedelta(days=8)
CHANGES = (Notice.Kind.MOVED, Notice.Kind.ADDED, Notice.Kind.CALLED_OFF, Notice.Kind.ON_AGAIN, Notice.Kind.EASIER)


@dataclass(frozen=True)
class OwnSession:
    """One session of one athlete; `word` is the last said about coming, `change` one that the reader has not seen."""

    training_session: TrainingSession
    athlete: Person
    word: Availability | None
    change: Notice | None
    coaches: tuple[Person, ...]

    @property
    def is_away(self) -> bool:
        """Not coming, as last said."""
        return self.word is not None and self.word.state == Availability.State.NOT_TODAY


def coming_sessions(*, viewer: Viewer, athletes: Sequence[Person]) -> dict[UUID, list[OwnSession]]:
    """By athlete: what is not over yet of the next eight days, in order of time; a fixed number of queries."""
    people = {athlete.pk: athlete for athlete in athletes}
    rows = list(
        SessionAthlete.objects.filter(
            athlete__in=people,
            training_session__ends_at__gt=viewer.now,
            training_session__starts_at__lt=viewer.now + AHEAD,
        )
        .select_related("training_session__venue")
        .order_by("training_session__starts_at", "training_session_id")
    )
    sessions = {row.training_session_id: row.training_session for row in rows}
    words = latest_availability(training_sessions=sessions.values(), athlete_ids=people)
    changes, coaches = _changes(viewer, list(sessions)), _coaches(viewer, list(sessions))
    found: dict[UUID, list[OwnSession]] = defaultdict(list)
    for row in rows:
        found[row.athlete_id].append(
            OwnSession(
                training_session=row.training_session,
                athlete=people[row.athlete_id],
                word=words.get((row.training_session_id, row.athlete_id)),
                change=changes.get(row.training_session_id),
                coaches=coaches.get(row.training_session_id, ()),
            )
        )
    return found


def _changes(viewer: Viewer, session_ids: Sequence[UUID]) -> dict[UUID, Notice]:
    """The newest notice of a change to each session that the viewer has not seen."""
    rows = Notice.objects.filter(
        to=viewer.person_id, training_session__in=session_ids, kind__in=CHANGES, seen_at=None
    ).order_by("made_at", "id")
    with rows_open(people=[viewer.person_id]):
        return {notice.training_session_id: notice for notice in rows if notice.training_session_id}


def _coaches(viewer: Viewer, session_ids: Sequence[UUID]) -> dict[UUID, tuple[Person, ...]]:
    """The adult coaches of each session: whom a family may call."""
    rows = SessionCoach.objects.filter(
        training_session__in=session_ids, taken_off_at=None, part=SessionCoach.Part.COACH
    ).select_related("coach")
    found: dict[UUID, tuple[Person, ...]] = defaultdict(tuple)
    for row in rows.order_by("coach__family_name", "coach__given_name"):
        born = row.coach.birth_date
        if born is not None and not ages.is_minor(ages.age_on(born, viewer.today)):
            found[row.training_session_id] += (row.coach,)
    return found
