"""What a session's coaches take along: who is still to be collected, who stopped, who was not seen, what held."""

from collections import defaultdict
from dataclasses import dataclass
from uuid import UUID

from athletes.core import ages
from athletes.models import Person
from sessions.access import Part
from sessions.models import Entry, EntryKind, Feature, SessionAthlete, SessionClosing, SessionNote
from sessions.selectors.counting_entries import entries_that_count
from sessions.selectors.form_history import points_in_hand
from sessions.selectors.session_cards import roster_rows
from sessions.selectors.staffing import Staff, staff_of

HERE = ("came", "late")
PURPOSE_OF = {
    EntryKind.PRESENCE: "record",
    EntryKind.STOP: "availability",
    EntryKind.OBSERVATION: "feedback",
}


@dataclass(frozen=True)
class Held:
    """Features of one athlete, in words: those that held today, or those in hand for the next time."""

    athlete: Person
    features: tuple[str, ...]


@dataclass(frozen=True)
class SessionSummary:
    """One training session afterwards, as far as this reader may see each athlete."""

    to_collect: tuple[Person, ...]
    stopped: tuple[Person, ...]
    not_seen: tuple[Person, ...]
    held: tuple[Held, ...]
    next_points: tuple[Held, ...]
    closing: SessionClosing | None
    notes: tuple[SessionNote, ...]
    staff: tuple[Staff, ...]
    has_roll: bool
    has_entries: bool

    @property
    def adults(self) -> int:
        """How many adults were counted at the closing, else how many of the list count for the club's rule."""
        return self.closing.adults if self.closing else sum(one.counts for one in self.staff)


def session_summary(*, part: Part) -> SessionSummary:
    """The summary, in a fixed number of queries."""
    rows = roster_rows([part.training_session.pk])
    answers = part.answers_to_reader([row.athlete for row in rows], tuple(PURPOSE_OF.values()))
    allowed = {purpose: answers.allowed_ids(purpose) for purpose in PURPOSE_OF.values()}
    people = [row.athlete for row in rows if row.athlete_id in allowed["record"]]
    by_kind = _entries_by_kind(part, allowed)
    presence = {entry.athlete_id: entry.content["state"] for entry in by_kind[EntryKind.PRESENCE]}
    away = {row.athlete_id for row in rows if row.comes == SessionAthlete.Comes.AWAY}
    here = {one for one, state in presence.items() if state in HERE} if presence else {p.pk for p in people} - away
    seen = {entry.athlete_id for entry in by_kind[EntryKind.OBSERVATION]}
    stopped = {entry.athlete_id for entry in by_kind[EntryKind.STOP]}
    held = _held(part, people, by_kind[EntryKind.OBSERVATION])
    session = part.training_session
    notes = SessionNote.objects.filter(training_session=session).select_related("by", "to")
    return SessionSummary(
        to_collect=tuple(one for one in people if presence.get(one.pk) in HERE and _is_minor(one, part)),
        stopped=tuple(one for one in people if one.pk in stopped),
        not_seen=tuple(one for one in people if one.pk in here & allowed["feedback"] - seen),
        held=held,
        next_points=_next_points(part, [one for one in people if one.pk in here & allowed["feedback"]], held),
        closing=SessionClosing.objects.filter(training_session=session).select_related("closed_by").first(),
        notes=tuple(notes),
        staff=staff_of(session_ids=[session.pk], day=part.day).get(session.pk, ()),
        has_roll=bool(presence),
        has_entries=bool(by_kind[EntryKind.OBSERVATION] or by_kind[EntryKind.STOP]),
    )


def _entries_by_kind(part: Part, allowed: dict[str, set[UUID]]) -> dict[str, list[Entry]]:
    """Entries that count, of the kinds that the summary looks at, by arrival."""
    rows = Entry.objects.filter(training_session=part.training_session, kind__in=PURPOSE_OF)
    found: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries_that_count(rows.order_by("seq")):
        if entry.athlete_id in allowed[PURPOSE_OF[EntryKind(entry.kind)]]:
            found[entry.kind].append(entry)
    return found


def _is_minor(person: Person, part: Part) -> bool:
    return ages.is_minor(ages.age_on(person.birth_date, part.day) if person.birth_date else None)


def _held(part: Part, people: list[Person], observations: list[Entry]) -> tuple[Held, ...]:
    """By athlete, the features whose last judged stride held."""
    last: dict[tuple[UUID, str], tuple[int, int, str]] = {}
    for entry in observations:
        key, judged = (
            (entry.athlete_id, entry.content["feature"]),
            (entry.stride or 0, entry.seq, entry.content["shown"]),
        )
        last[key] = max(last.get(key, judged), judged)
    labels = dict(Feature.objects.filter(club=part.viewer.club_id).values_list("code", "label"))
    found: dict[UUID, list[str]] = defaultdict(list)
    for (athlete_id, code), (_stride, _seq, shown) in last.items():
        if shown == "held":
            found[athlete_id].append(labels.get(code, code))
    return tuple(Held(one, tuple(found[one.pk])) for one in people if found[one.pk])


def _next_points(part: Part, people: list[Person], held: tuple[Held, ...]) -> tuple[Held, ...]:
    """By athlete, the points in hand that did not hold today; where all did, all of them, to be seen once more."""
    points = points_in_hand(viewer=part.viewer, athlete_ids=[one.pk for one in people])
    done = {one.athlete.pk: set(one.features) for one in held}
    found = []
    for person in people:
        labels = tuple(feature.label for feature in points[person.pk])
        open_ones = tuple(label for label in labels if label not in done.get(person.pk, set()))
        if labels:
            found.append(Held(person, open_ones or labels))
    return tuple(found)
