"""Which training sessions their runners reported as hard though they were planned easy or moderate."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, NamedTuple
from uuid import UUID

from athletes.access import answers_for
from athletes.core import ages
from athletes.models import Club, Person
from athletes.viewer import Viewer
from sessions.access import training_sessions_visible_to
from sessions.core.iso_week import IsoWeek
from sessions.core.really_hard import Hardness, HardRule, Report, hardness, may_turn_hard
from sessions.models import Entry, EntryKind, SessionAthlete, TrainingSession
from sessions.selectors.counting_entries import LINKED, entries_that_count
from sessions.selectors.session_groups import read_groups
from teamtrack.common.composed import values_of

BEFORE = timedelta(days=4)
"""How far back a hard session can still be felt by the plan (common practice, no source)."""
CAME = frozenset({"came", "late", "left", "collected"})


def hard_rule(club: Club) -> HardRule:
    """The club's own numbers."""
    return HardRule(club.hard_from_rpe, club.hard_least_reports, club.hard_least_percent)


def reported_hard(
    *, viewer: Viewer, training_sessions: Iterable[TrainingSession], athletes: Mapping[UUID, Person]
) -> dict[UUID, Hardness]:
    """By training session that turned out hard for somebody; two queries, and none where no session can have.

    `athletes` are those whose `record` the viewer may use: only their entries count.
    """
    ended = {one.pk: one for one in training_sessions if one.ends_at <= viewer.now and _may_turn_hard(one)}
    if not ended:
        return {}
    reports, came = _told(viewer, ended, athletes)
    rule, expected = hard_rule(viewer.club), _expected(ended)
    found = {
        pk: hardness(rows.values(), max(len(came[pk]) if pk in came else expected[pk], len(rows)), rule)
        for pk, rows in reports.items()
    }
    return {pk: one for pk, one in found.items() if one.alone or one.is_group_hard}


@dataclass(frozen=True)
class HardDay:
    """A published training session that turned out hard for some or all."""

    training_session: TrainingSession
    hardness: Hardness

    @property
    def groups(self) -> frozenset[UUID]:
        return frozenset(group.pk for group in self.training_session.groups.all())


def hard_days(*, viewer: Viewer, week: IsoWeek) -> list[HardDay]:
    """The sessions of the week and of the days before that turned out hard, in order of time; a fixed number of
    queries, one where none can have."""
    rows = training_sessions_visible_to(viewer).filter(
        state=TrainingSession.State.PUBLISHED,
        ends_at__lte=viewer.now,
        ends_at__gt=week.starts_at - BEFORE,
        starts_at__lt=week.ends_at,
    )
    listed = [one for one in rows.order_by("starts_at", "id") if _may_turn_hard(one)]
    if not listed:
        return []
    read_groups(listed)
    logged = Entry.objects.filter(training_session__in=listed, kind=EntryKind.DAY)
    people = list(Person.objects.filter(pk__in=logged.values("athlete")))
    known = answers_for(viewer=viewer, athletes=people, purposes=["record"]).allowed_ids("record")
    athletes = {person.pk: person for person in people if person.pk in known}
    found = reported_hard(viewer=viewer, training_sessions=listed, athletes=athletes)
    return [HardDay(one, found[one.pk]) for one in listed if one.pk in found]


def _may_turn_hard(training_session: TrainingSession) -> bool:
    return may_turn_hard((training_session.kind, *training_session.also))


class _Logged(NamedTuple):
    """Of an effort or a presence: what tells whether it counts, and what it says."""

    pk: UUID
    training_session_id: UUID
    kind: str
    athlete_id: UUID
    by_id: UUID
    replaces: UUID | None
    withdrawn: bool
    content: Mapping[str, Any]


def _told(
    viewer: Viewer, ended: Mapping[UUID, TrainingSession], athletes: Mapping[UUID, Person]
) -> tuple[dict[UUID, dict[UUID, Report]], dict[UUID, set[UUID]]]:
    """Per session the last effort of each athlete, and who came by the roll call; a session without one is missing."""
    rows = Entry.objects.filter(training_session__in=ended, kind__in=[EntryKind.DAY, EntryKind.PRESENCE])
    listed = values_of(rows.order_by("training_session_id", "seq").values_list(*LINKED, "content"))
    reports: dict[UUID, dict[UUID, Report]] = defaultdict(dict)
    came: dict[UUID, set[UUID]] = defaultdict(set)
    for entry in entries_that_count(_Logged(*row) for row in listed):
        of_session, person = entry.training_session_id, athletes.get(entry.athlete_id)
        if entry.kind == EntryKind.DAY:
            if person is not None:
                in_words = _is_in_words(person, ended[of_session], viewer)
                reports[of_session][person.pk] = Report(str(person.pk), entry.content["rpe"], in_words)
        elif entry.content["state"] in CAME:
            came[of_session].add(entry.athlete_id)
        else:
            came[of_session].discard(entry.athlete_id)
    return reports, came


def _expected(session_ids: Iterable[UUID]) -> Counter[UUID]:
    """How many the rosters expect: without a roll call they are taken to have come."""
    rows = SessionAthlete.objects.filter(training_session__in=session_ids).exclude(comes=SessionAthlete.Comes.AWAY)
    return Counter(rows.values_list("training_session_id", flat=True))


def _is_in_words(person: Person, training_session: TrainingSession, viewer: Viewer) -> bool:
    """Under 13 on the session's day, or of unknown age: the effort was asked in words."""
    day = training_session.starts_at.astimezone(viewer.now.tzinfo).date()
    return person.birth_date is None or ages.is_under_13(ages.age_on(person.birth_date, day))
