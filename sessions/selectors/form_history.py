"""Form history of athletes as a reader may see it: each part asks its own purpose, the folding is the core's."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import NamedTuple
from uuid import UUID

from django.db.models import Q, QuerySet

from athletes.access import Answers, get_athlete_and_answers
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from sessions.core.progress.form_history import NO_STRIDE, FeatureHistory, Place, Said, Seen, form_history
from sessions.models import Entry, EntryKind, Feature, Focus, Unsuited
from sessions.selectors.counting_entries import LINKED, entries_that_count, ids_that_count
from sessions.selectors.unsuited import unsuited_of
from teamtrack.common.composed import values_of
from teamtrack.common.errors import NotFound

LOOKS_BACK = timedelta(days=730)
"""This season and last: the period for which form history is kept (the permissions contract)."""

PURPOSES = ("record", "feedback", "share", "health", "availability")
FEEDBACK_KINDS = (EntryKind.OBSERVATION, EntryKind.CUE)


@dataclass(frozen=True)
class Told:
    """What coaches saw and said about one athlete, of what counts."""

    seen: tuple[Seen, ...] = ()
    said: tuple[Said, ...] = ()


@dataclass(frozen=True)
class AthleteForm:
    """The Athlete page: points in hand and the history by feature; both None where this reader may not see them.

    `stops_asked`: by feature in hand, the day on which the athlete asked to stop it.
    """

    athlete: Person
    answers: Answers
    points: tuple[Feature, ...] | None
    histories: tuple[FeatureHistory, ...] | None
    features: Mapping[str, Feature]
    coaches: Mapping[str, Person]
    unsuited: tuple[Unsuited, ...] = ()
    stops_asked: Mapping[UUID, date] = field(default_factory=dict)

    @property
    def may_change_points(self) -> bool:
        return self.answers.may(self.athlete.pk, "feedback")

    @property
    def may_see_health(self) -> bool:
        return self.answers.may(self.athlete.pk, "health")


def athlete_form(*, viewer: Viewer, athlete_id: UUID) -> AthleteForm:
    """One athlete's form history for a coach or the head coach, in a fixed number of queries.

    Not found where the reader may use neither the athlete's record nor a shared history.
    """
    athlete, answers = get_athlete_with_history(viewer, athlete_id)
    features = {feature.code: feature for feature in Feature.objects.filter(club=viewer.club_id)}
    if not may_read_history(answers, athlete_id):
        return AthleteForm(athlete, answers, None, None, features, {})
    told = told_about(viewer=viewer, athlete_ids=[athlete_id])[athlete_id]
    in_hand = focuses_in_hand(viewer=viewer, athlete_ids=[athlete_id])
    coaches = {one.by for one in (*told.seen, *told.said)}
    return AthleteForm(
        athlete=athlete,
        answers=answers,
        points=tuple(focus.feature for focus in in_hand),
        stops_asked={focus.feature_id: focus.stop_asked_on for focus in in_hand if focus.stop_asked_on},
        histories=form_history(seen=told.seen, said=told.said),
        features=features,
        coaches={str(coach.pk): coach for coach in Person.objects.filter(pk__in=coaches)},
        unsuited=unsuited_of(viewer=viewer, athlete_ids=[athlete_id])[athlete_id],
    )


def get_athlete_with_history(viewer: Viewer, athlete_id: UUID) -> tuple[Person, Answers]:
    """One athlete whose record, or else whose shared history, a coach or the head coach may use."""
    if viewer.role not in (Role.COACH, Role.HEAD_COACH):
        raise NotFound()
    try:
        return get_athlete_and_answers(viewer, athlete_id, PURPOSES)
    except NotFound:
        return get_athlete_and_answers(viewer, athlete_id, ("share", *PURPOSES))


def may_read_history(answers: Answers, athlete_id: UUID) -> bool:
    """Coaches of the athlete read by `feedback`; named others, the head coach among them, by `share`."""
    return answers.may(athlete_id, "feedback") or answers.may(athlete_id, "share")


def points_in_hand(*, viewer: Viewer, athlete_ids: Collection[UUID]) -> dict[UUID, tuple[Feature, ...]]:
    """By athlete: the features worked on now, the latest first; one query."""
    found: dict[UUID, tuple[Feature, ...]] = defaultdict(tuple)
    for focus in focuses_in_hand(viewer=viewer, athlete_ids=athlete_ids):
        found[focus.athlete_id] += (focus.feature,)
    return found


def focuses_in_hand(*, viewer: Viewer, athlete_ids: Collection[UUID]) -> list[Focus]:
    """The rows that hold today, with their features, the latest first; one query."""
    rows = Focus.objects.filter(athlete__in=athlete_ids, since__lte=viewer.today).exclude(until__lt=viewer.today)
    return list(rows.select_related("feature").order_by("-since", "id"))


class _Feedback(NamedTuple):
    """Of an observation or a cue: what tells whether it counts, and what it says."""

    pk: UUID
    training_session_id: UUID
    kind: str
    athlete_id: UUID
    by_id: UUID
    replaces: UUID | None
    withdrawn: bool
    seq: int
    stride: int | None
    content: Mapping[str, str]
    session_starts_at: datetime


def told_about(*, viewer: Viewer, athlete_ids: Collection[UUID], back: timedelta = LOOKS_BACK) -> dict[UUID, Told]:
    """By athlete: the observations and cues that count, of sessions that began within `back`; one query."""
    rows = entries_with_corrections(viewer=viewer, athlete_ids=athlete_ids, kinds=FEEDBACK_KINDS, back=back)
    columns = rows.values_list(*LINKED, "seq", "stride", "content", "training_session__starts_at")
    found = [_Feedback(*row) for row in values_of(columns)]
    wanted, ids = set(athlete_ids), ids_that_count(found)
    seen: dict[UUID, list[Seen]] = defaultdict(list)
    said: dict[UUID, list[Said]] = defaultdict(list)
    for row in found:
        if row.athlete_id not in wanted or row.pk not in ids:
            continue
        stride = NO_STRIDE if row.stride is None else row.stride
        place = Place(row.session_starts_at, str(row.training_session_id), stride, row.seq)
        if row.kind == EntryKind.OBSERVATION:
            seen[row.athlete_id].append(_seen(row.content, place, str(row.by_id)))
        else:
            said[row.athlete_id].append(_said(row.content, place, str(row.by_id)))
    told = {one: Told(tuple(seen[one]), tuple(said[one])) for one in wanted}
    return defaultdict(Told, told)


def entries_with_corrections(
    *, viewer: Viewer, athlete_ids: Collection[UUID], kinds: Collection[str], back: timedelta
) -> QuerySet[Entry]:
    """Entries about some athletes, and all corrections in those training sessions: a correction may name another
    athlete, so that what counts can be told only with them."""
    recent = Entry.objects.filter(
        club=viewer.club_id, kind__in=kinds, training_session__starts_at__gt=viewer.now - back
    )
    own = recent.filter(athlete__in=athlete_ids)
    corrections = Q(replaces__isnull=False, training_session__in=own.values("training_session_id"))
    return recent.filter(Q(athlete__in=athlete_ids) | corrections)


def counting_rows(rows: QuerySet[Entry], athlete_id: UUID) -> list[Entry]:
    """Of entries with their corrections: the rows about one athlete that count, newest first."""
    entries = entries_that_count(rows.order_by("-training_session__starts_at", "-seq"))
    return [one for one in entries if one.athlete_id == athlete_id]


def _seen(content: Mapping[str, str], place: Place, by: str) -> Seen:
    return Seen(place, content["feature"], content["shown"], by, content.get("type") == "strength")


def _said(content: Mapping[str, str], place: Place, by: str) -> Said:
    return Said(place, content["feature"], content["words"], content["how"], content["understood"], by)
