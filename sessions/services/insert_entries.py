"""Inserts entries by one statement, without a model instance for each: a phone may send 500 at once."""

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from uuid import UUID

from django.db import connection

from sessions.access import Part
from sessions.core.entries.shape import Entry as CoreEntry
from sessions.models import Entry, TrainingSession
from sessions.models.entries import EntryKind
from sessions.selectors.entries import said_in
from teamtrack.common.composed import write_rows

_SHARED = ("club", "training_session", "by", "by_athlete", "received_at")
_OWN = ("id", "kind", "stride", "at", "device", "replaces", "withdrawn", "content")
FIELDS = ("seq", *_SHARED, "athlete", *_OWN)
_SEQ = f'(SELECT last_seq - %s FROM "{TrainingSession._meta.db_table}" WHERE id = %s)'  # noqa: S608


def insert_entries(*, part: Part, entries: Sequence[CoreEntry], received_at: datetime) -> None:
    """Write the rows of entries; what is said about pain is kept apart and not written here.

    The session's counter already stands at the last of them: each takes its seq from there, in their order.
    """
    session_id = _stored("training_session", part.training_session.pk)
    shared = (
        _stored("club", part.training_session.club_id),
        session_id,
        _stored("by", part.viewer.person_id),
        not part.is_coach,
        _stored("received_at", received_at),
    )
    athletes = {text: _stored("athlete", UUID(text)) for text in {entry.athlete for entry in entries}}
    rows = [
        (len(entries) - place, session_id, *shared, athletes[entry.athlete], *_own_values(entry))
        for place, entry in enumerate(entries, start=1)
    ]
    write_rows(_statement(), rows)


def _own_values(entry: CoreEntry) -> tuple[object, ...]:
    content = {} if entry.kind == EntryKind.PAIN else said_in(entry)
    return (
        _stored("id", UUID(entry.id)),
        entry.kind,
        entry.stride,
        entry.at,
        entry.device,
        _stored("replaces", UUID(entry.replaces)) if entry.replaces else None,
        entry.withdrawn,
        _stored("content", content),
    )


def _stored(name: str, value: object) -> object:
    """The value as this database keeps it."""
    return Entry._meta.get_field(name).get_db_prep_save(value, connection)  # type: ignore[union-attr]


@cache
def _statement() -> str:
    columns = ", ".join(f'"{Entry._meta.get_field(name).column}"' for name in FIELDS)  # type: ignore[union-attr]
    places = ", ".join([_SEQ] + ["%s"] * (len(FIELDS) - 1))
    return f'INSERT INTO "{Entry._meta.db_table}" ({columns}) VALUES ({places})'  # noqa: S608
