"""Reads entries: between the table and the core, where the health text lies in a row of its own."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import cast
from uuid import UUID

from django.db import connection
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from athletes.health_key import Unreadable, unseal
from athletes.models import Club, Person
from sessions.core.entries.counting import Link
from sessions.core.entries.kinds import KINDS, PURPOSES
from sessions.core.entries.shape import Entry as CoreEntry
from sessions.core.entries.values import Value
from sessions.models import Entry, ErasedEntry, Feature, PainDetail, SessionAthlete, TrainingSession
from sessions.models.entries import EntryKind
from teamtrack.common.composed import planned_rows

_MET = f"""
SELECT 'entry', CAST(id AS text), NULL, NULL FROM "{Entry._meta.db_table}" WHERE id IN (IDS)
UNION ALL
SELECT 'erased', CAST(entry_id AS text), NULL, NULL FROM "{ErasedEntry._meta.db_table}"
WHERE training_session_id = %s AND entry_id IN (IDS)
UNION ALL
SELECT 'feature', code, NULL, NULL FROM "{Feature._meta.db_table}" WHERE club_id = %s
UNION ALL
SELECT 'runner', CAST(one.id AS text), CAST(one.birth_date AS text), one.home_country
FROM "{SessionAthlete._meta.db_table}" AS runs JOIN "{Person._meta.db_table}" AS one ON one.id = runs.athlete_id
WHERE runs.training_session_id = %s AND one.club_id = %s AND one.id IN (ATHLETES)"""  # noqa: S608

UNREADABLE = _("This note can no longer be read: its key is not on this server.")

KINDS_OF_PURPOSE = {purpose: [kind.name for kind in KINDS.values() if kind.purpose == purpose] for purpose in PURPOSES}
"""The kinds that are kept for each purpose."""


@dataclass(frozen=True, slots=True)
class Met:
    """Which of some ids are taken by entries or were taken away here, the features of the club, and who of some people
    is on the roster: of these, no more than a decision asks."""

    taken: frozenset[str]
    erased: frozenset[str]
    features: frozenset[str]
    runners: list[Person]


def what_entries_meet(training_session: TrainingSession, ids: Collection[str], athletes: Collection[UUID]) -> Met:
    """What is there of entries with these ids (at least one) about these people, and the club's features; one query."""
    stored = [Entry._meta.pk.get_db_prep_value(one, connection) for one in ids]
    people = [Person._meta.pk.get_db_prep_value(one, connection) for one in athletes]
    here = TrainingSession._meta.pk.get_db_prep_value(training_session.pk, connection)
    club = Club._meta.pk.get_db_prep_value(training_session.club_id, connection)
    statement = _MET.replace("IDS", _places(stored)).replace("ATHLETES", _places(people))
    found: dict[str, set[str]] = {"entry": set(), "erased": set(), "feature": set()}
    runners = []
    for what, said, born, country in planned_rows(statement, [*stored, here, *stored, club, here, club, *people]):
        if what == "runner":
            runners.append(_runner(training_session.club_id, said, born, country))
        else:
            found[what].add(said if what == "feature" else str(UUID(said)))
    return Met(*(frozenset(found[what]) for what in ("entry", "erased", "feature")), runners)


def _places(values: Collection[object]) -> str:
    """The places of a list in a statement; a list of nobody holds nothing."""
    return ", ".join(["%s"] * len(values)) or "NULL"


def _runner(club_id: UUID, pk: str, born: str | None, country: str) -> Person:
    """A person as far as a decision asks; the rest would be read at need."""
    values = (UUID(pk), club_id, date.fromisoformat(born) if born else None, country)
    return Person.from_db(connection.alias, ("id", "club_id", "birth_date", "home_country"), values)


def people_on_roster(training_session: TrainingSession) -> list[Person]:
    """The people on the roster."""
    return list(Person.objects.filter(session_athletes__training_session=training_session))


def others_written_about(training_session: TrainingSession, ids: Collection[UUID]) -> list[Person]:
    """The people beside these whom entries are about."""
    about = Entry.objects.filter(training_session=training_session).exclude(athlete__in=ids)
    return list(Person.objects.filter(pk__in=about.values("athlete_id")))


def entries_allowed(training_session: TrainingSession, allowed: Mapping[str, Collection[UUID]]) -> QuerySet[Entry]:
    """A session's entries about the people who are allowed for each purpose."""
    may = Q(pk__in=[])
    for purpose, ids in allowed.items():
        may |= Q(kind__in=KINDS_OF_PURPOSE[purpose], athlete__in=ids)
    return Entry.objects.filter(may, training_session=training_session)


def entries_for_athlete(person: Person) -> Q:
    """What an athlete reads: what they sent themselves, and the stops and pain about them."""
    return Q(by=person) | Q(athlete=person, kind__in=[EntryKind.STOP, EntryKind.PAIN])


def whole(rows: QuerySet[Entry]) -> QuerySet[Entry]:
    """The rows with what they need to be told in full."""
    return rows.select_related("pain_detail")


def links_of(rows: QuerySet[Entry]) -> tuple[list[Link], int]:
    """What counting looks at, and the highest seq among it."""
    links, highest = [], 0
    for pk, kind, athlete_id, by_id, replaces, withdrawn, seq in rows.values_list(
        "pk", "kind", "athlete_id", "by_id", "replaces", "withdrawn", "seq"
    ):
        links.append(Link(str(pk), kind, str(athlete_id), str(by_id), replaces and str(replaces), withdrawn))
        highest = max(highest, seq)
    return links, highest


def entry_of(row: Entry) -> CoreEntry:
    """An entry as it was sent, with all keys of its kind."""
    said = _said_about_pain(row) if row.kind == EntryKind.PAIN else row.content
    return CoreEntry(
        id=str(row.pk),
        session=str(row.training_session_id),
        kind=row.kind,
        athlete=str(row.athlete_id),
        stride=row.stride,
        at=row.at,
        device=row.device,
        replaces=str(row.replaces) if row.replaces else None,
        withdrawn=row.withdrawn,
        own={key: said.get(key) for key in KINDS[row.kind].keys},
    )


def said_in(entry: CoreEntry) -> dict[str, Value]:
    """The kind's own keys that say something."""
    return {key: value for key, value in entry.own.items() if value is not None}


def is_unreadable(row: Entry) -> bool:
    """Whether the row's text about pain cannot be opened: its key is not here, or no longer."""
    return row.kind == EntryKind.PAIN and not row.withdrawn and _opened(row) is None


def _said_about_pain(row: Entry) -> dict[str, Value]:
    if row.withdrawn:
        return {}
    opened = _opened(row)
    return {"words": str(UNREADABLE)} if opened is None else opened


def _opened(row: Entry) -> dict[str, Value] | None:
    detail: PainDetail | None = getattr(row, "pain_detail", None)
    if detail is None:
        return None
    try:
        return cast(dict[str, Value], unseal(detail.sealed, row=detail.sealed_for))
    except Unreadable:
        return None
