"""What an athlete may log: own recent sessions, what is in hand there, what was logged already."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Exists, OuterRef, QuerySet

from athletes.core import ages
from athletes.models import Person
from athletes.viewer import Viewer
from sessions.models import Entry, EntryKind, Feature, Focus, SessionCoach, TrainingSession
from sessions.selectors.counting_entries import entries_that_count

LOGGED_BACK = timedelta(days=7)
AT_ONE_TIME = 2
"""One or two features of form at a time (common practice, no source)."""


@dataclass(frozen=True)
class OwnLog:
    """One training session as its athlete logs it; `felt` and `day` are the own entries that count."""

    training_session: TrainingSession
    features: tuple[Feature, ...]
    felt: tuple[Entry, ...]
    day: tuple[Entry, ...]
    seen_by: tuple[Person, ...]
    is_under_13: bool

    @property
    def has_strides(self) -> bool:
        """Strides are felt in technique work alone; every session has its day's effort."""
        return "technique" in self.training_session.kinds


def sessions_to_log(viewer: Viewer) -> QuerySet[TrainingSession]:
    """The viewer's own sessions of the last seven days that have begun, newest first, marked where logged."""
    own = Entry.objects.filter(
        training_session=OuterRef("pk"), by=viewer.person_id, kind__in=[EntryKind.FELT, EntryKind.DAY]
    )
    rows = TrainingSession.objects.filter(
        club=viewer.club_id,
        session_athletes__athlete=viewer.person_id,
        state=TrainingSession.State.PUBLISHED,
        starts_at__lte=viewer.now,
        starts_at__gt=viewer.now - LOGGED_BACK,
    )
    return rows.annotate(is_logged=Exists(own)).select_related("venue").order_by("-starts_at", "id")


def own_log(*, viewer: Viewer, training_session: TrainingSession) -> OwnLog:
    """The log page of one session; a fixed number of queries."""
    own = _counting_own(viewer, training_session)
    born = viewer.person.birth_date
    day = training_session.starts_at.astimezone(viewer.now.tzinfo).date()
    return OwnLog(
        training_session=training_session,
        features=features_in_hand(viewer),
        felt=tuple(entry for entry in own if entry.kind == EntryKind.FELT and entry.stride is None),
        day=tuple(entry for entry in own if entry.kind == EntryKind.DAY),
        seen_by=_coaches(training_session),
        is_under_13=ages.is_under_13(ages.age_on(born, day) if born else None),
    )


def features_in_hand(viewer: Viewer) -> tuple[Feature, ...]:
    """What the viewer works on now, the latest first."""
    rows = Focus.objects.filter(athlete=viewer.person_id, since__lte=viewer.today).exclude(until__lt=viewer.today)
    return tuple(focus.feature for focus in rows.select_related("feature").order_by("-since", "id")[:AT_ONE_TIME])


def _counting_own(viewer: Viewer, training_session: TrainingSession) -> Sequence[Entry]:
    rows = Entry.objects.filter(
        training_session=training_session, by=viewer.person_id, kind__in=[EntryKind.FELT, EntryKind.DAY]
    )
    return entries_that_count(rows.order_by("seq"))


def _coaches(training_session: TrainingSession) -> tuple[Person, ...]:
    rows = SessionCoach.objects.filter(training_session=training_session, taken_off_at=None).select_related("coach")
    return tuple(row.coach for row in rows.order_by("part", "coach__family_name"))
