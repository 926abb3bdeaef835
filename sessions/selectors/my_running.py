"""What an athlete has learnt: points held, in hand, and own words beside the coach's once the own view is given."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from uuid import UUID

from athletes.viewer import Viewer
from sessions.core.progress.unsuited import Note, is_unsuited, same_words
from sessions.models import Entry, EntryKind, Feature, Focus, HiddenLine, TrainingSession, Unsuited
from sessions.selectors.counting_entries import entries_that_count
from sessions.selectors.form_history import entries_with_corrections, focuses_in_hand
from sessions.selectors.unsuited import notes_of, unsuited_of

LOOKS_BACK = timedelta(days=730)
"""This season and last: the period for which form history is kept (the permissions contract)."""

OWN = (EntryKind.FELT, EntryKind.OWN_VIEW)
TOLD = (EntryKind.OBSERVATION, EntryKind.CUE)
SHOWN_SESSIONS = 12


@dataclass(frozen=True)
class Told:
    """One entry in words: the point it is about, and what it says."""

    entry: Entry
    feature: str

    @property
    def words(self) -> str:
        """What was said: a cue's words, a note, the runner's own words."""
        return str(self.entry.content.get("words") or self.entry.content.get("note") or "")

    @property
    def shown(self) -> str:
        """What the stride showed, or felt like; empty where nothing was said of it."""
        return str(self.entry.content.get("shown") or "")

    @property
    def effort(self) -> int | None:
        """How hard the strides were, if that was said."""
        return self.entry.content.get("effort")

    @property
    def feel(self) -> str:
        """How the strides felt; empty where nothing was said of it."""
        return str(self.entry.content.get("feel") or "")


@dataclass(frozen=True)
class RunSession:
    """One session: the own words, and beside them the coach's once the own view is given."""

    training_session: TrainingSession
    own: tuple[Told, ...]
    told: tuple[Told, ...]
    waits_for_own_view: bool
    hidden: tuple[Told, ...] = ()

    @property
    def lines(self) -> tuple[Told, ...]:
        """Own words and the coach's, as far as they are shown."""
        return (*self.own, *self.told)

    def without(self, hidden: Collection[UUID]) -> "RunSession":
        """The same session with these entries out of sight."""
        return replace(
            self,
            own=tuple(one for one in self.own if one.entry.pk not in hidden),
            told=tuple(one for one in self.told if one.entry.pk not in hidden),
            hidden=tuple(one for one in self.lines if one.entry.pk in hidden),
        )


@dataclass(frozen=True)
class Point:
    """A feature of form: the latest result that may be shown, and the last words that were used for it.

    `stop_asked_on`: of a point in hand, the day on which the athlete asked to stop it.
    """

    feature: Feature
    last: Told | None
    last_words: Told | None
    stop_asked_on: date | None = None


@dataclass(frozen=True)
class MyRunning:
    """The page: points held, points in hand, what does not suit, sessions newest first."""

    held: tuple[Point, ...]
    in_hand: tuple[Point, ...]
    unsuited: tuple[Unsuited, ...]
    sessions: tuple[RunSession, ...]


def my_running(viewer: Viewer) -> MyRunning:
    """The viewer's own page; a fixed number of queries."""
    rows = entries_with_corrections(viewer=viewer, athlete_ids=[viewer.person_id], kinds=[*OWN, *TOLD], back=LOOKS_BACK)
    labels = {feature.code: feature for feature in Feature.objects.filter(club=viewer.club_id)}
    entries = rows.select_related("by", "training_session__venue").order_by("training_session__starts_at", "seq")
    counting = [entry for entry in entries_that_count(entries) if entry.athlete_id == viewer.person_id]
    hidden = set(HiddenLine.objects.filter(athlete=viewer.person_id).values_list("entry_id", flat=True))
    sessions = [one.without(hidden) for one in _sessions(counting, labels)]
    unsuited = unsuited_of(viewer=viewer, athlete_ids=[viewer.person_id])[viewer.person_id]
    points = _points(sessions, labels, notes_of(unsuited))
    focuses = focuses_in_hand(viewer=viewer, athlete_ids=[viewer.person_id])
    in_hand = {focus.feature for focus in focuses}
    return MyRunning(
        held=tuple(
            point
            for point in points.values()
            if point.feature not in in_hand and point.last and point.last.shown == "held"
        ),
        in_hand=tuple(_in_hand(focus, points) for focus in reversed(focuses)),
        unsuited=_unsuited(unsuited, counting, sessions),
        sessions=tuple(reversed(sessions))[:SHOWN_SESSIONS],
    )


def _in_hand(focus: Focus, points: dict[str, Point]) -> Point:
    point = points.get(focus.feature.code) or Point(focus.feature, None, None)
    return replace(point, stop_asked_on=focus.stop_asked_on)


def _unsuited(
    rows: Iterable[Unsuited], counting: Iterable[Entry], sessions: Sequence[RunSession]
) -> tuple[Unsuited, ...]:
    """What does not suit, but for words that stand only where the own view is still to come."""
    waiting = {one.training_session.pk for one in sessions if one.waits_for_own_view}
    said: dict[bool, set[tuple[str, str]]] = {True: set(), False: set()}
    for entry in counting:
        if entry.kind == EntryKind.CUE:
            place = (entry.content["feature"], same_words(entry.content["words"]))
            said[entry.training_session_id in waiting].add(place)
    hidden = said[True] - said[False]
    return tuple(row for row in rows if (row.feature.code, same_words(row.words)) not in hidden)


def _sessions(entries: Iterable[Entry], labels: dict[str, Feature]) -> list[RunSession]:
    by_session: dict[UUID, list[Entry]] = defaultdict(list)
    for entry in entries:
        by_session[entry.training_session_id].append(entry)
    return [_session(rows, labels) for rows in by_session.values()]


def _session(rows: Sequence[Entry], labels: dict[str, Feature]) -> RunSession:
    own = tuple(_told(entry, labels) for entry in rows if entry.kind in OWN)
    told = tuple(_told(entry, labels) for entry in rows if entry.kind in TOLD)
    return RunSession(
        training_session=rows[0].training_session,
        own=own,
        told=told if own else (),
        waits_for_own_view=bool(told) and not own,
    )


def _told(entry: Entry, labels: dict[str, Feature]) -> Told:
    code = entry.content.get("feature")
    return Told(entry, labels[code].label if code in labels else "")


def _points(sessions: Sequence[RunSession], labels: dict[str, Feature], unsuited: Sequence[Note]) -> dict[str, Point]:
    """By code: the latest of what may be shown, words that suit alone; sessions are in order of time."""
    last: dict[str, Told] = {}
    words: dict[str, Told] = {}
    for session in sessions:
        for told in session.told:
            code = told.entry.content["feature"]
            if told.entry.kind == EntryKind.OBSERVATION:
                last[code] = told
            elif not is_unsuited(unsuited, code, told.words):
                words[code] = told
    return {
        code: Point(labels[code], last.get(code), words.get(code)) for code in labels if code in last or code in words
    }
