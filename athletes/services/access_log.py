"""Writes the access log: in the transaction of the act, chained, never with contents."""

import hashlib
import hmac
import secrets
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Field

from athletes.core.chain import GENESIS, entry_hash
from athletes.models import AccessLogEntry, ChainHead, Club, PseudonymKey
from athletes.models.access_log import CHAINED, chained_content
from athletes.viewer import SERVER, Viewer
from teamtrack.common.clock import utc_now
from teamtrack.common.composed import planned_rows, write_rows

_HEAD_AND_NAMES = f"""
SELECT head.seq, head.hash, names.person_id, names.pseudonym FROM "{ChainHead._meta.db_table}" AS head
LEFT JOIN "{PseudonymKey._meta.db_table}" AS names ON names.year = %s AND names.person_id IN (PEOPLE)
WHERE head.club_id = %s"""  # noqa: S608
_MOVE_HEAD = f'UPDATE "{ChainHead._meta.db_table}" SET seq = %s, hash = %s WHERE club_id = %s'  # noqa: S608
_PSEUDONYMS = f'SELECT person_id, pseudonym FROM "{PseudonymKey._meta.db_table}" WHERE year = %s'  # noqa: S608


_SHAPED = frozenset(["club", "at", "fields"])
"""The columns that a database keeps in a shape of its own: ids, instants, lists."""


@dataclass(frozen=True)
class Act:
    """One line to log: verb and kind, about whom, which fields, with which answer of the decision."""

    verb: str
    kind: str
    subject_id: UUID | None = None
    fields: tuple[str, ...] = ()
    code: str = ""


def open_chain(*, club_id: UUID) -> None:
    """Begin a new club's chain."""
    ChainHead.objects.create(club_id=club_id, seq=0, hash=GENESIS)


def log_acts(*, viewer: Viewer, acts: Sequence[Act]) -> None:
    """Append lines to the chain of the viewer's club; must stand in the transaction of the act."""
    if not acts:
        return
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError("An act and its log line stand or fall together: open a transaction first.")
    at = utc_now()
    actor_id = None if viewer.role == SERVER else viewer.person_id
    people = {one for one in (actor_id, *(act.subject_id for act in acts)) if one}
    head, names = _head_and_names(viewer.club_id, people, at.year)
    lines = []
    for act in acts:
        line = {
            "club": viewer.club_id,
            "seq": head.seq + 1,
            "at": at,
            "actor": names[actor_id] if actor_id else "",
            "actor_role": viewer.role,
            "verb": act.verb,
            "kind": act.kind,
            "subject": names[act.subject_id] if act.subject_id else "",
            "fields": list(act.fields),
            "code": act.code,
            "request_id": viewer.request_id,
            "prev_hash": head.hash,
        }
        line["hash"] = entry_hash(head.hash, chained_content([line[name] for name in CHAINED]))
        head.seq, head.hash = line["seq"], line["hash"]
        lines.append(line)
    _append(lines, head)


def _head_and_names(club_id: UUID, people: Collection[UUID], year: int) -> tuple[ChainHead, dict[UUID, str]]:
    """Where the chain ends, held until the commit, and the pseudonyms of people; mostly one query."""
    stored = [_stored_person(one) for one in people]
    statement = _HEAD_AND_NAMES.replace("PEOPLE", ", ".join(["%s"] * len(stored)) or "NULL")
    if connection.features.has_select_for_update_of:
        statement += " FOR UPDATE OF head"
    rows = planned_rows(statement, [year, *stored, Club._meta.pk.get_db_prep_value(club_id, connection)])
    names = {_id(person_id): pseudonym for _, _, person_id, pseudonym in rows if person_id}
    names |= pseudonyms(set(people) - names.keys(), year=year, club_id=club_id)
    seq, last_hash, *_ = rows[0]
    return ChainHead(club_id=club_id, seq=seq, hash=last_hash), names


@cache
def _line() -> tuple[str, tuple[tuple[str, "Field[Any, Any] | None"], ...]]:
    """The statement, and each column's name, with its field where a value is kept in another shape."""
    fields = [field for field in AccessLogEntry._meta.concrete_fields if not field.primary_key]
    columns = ", ".join(f'"{field.column}"' for field in fields)
    prepared = tuple((field.name, field if field.name in _SHAPED else None) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    return f'INSERT INTO "{AccessLogEntry._meta.db_table}" ({columns}) VALUES ({places})', prepared  # noqa: S608


def _append(lines: Sequence[Mapping[str, Any]], head: ChainHead) -> None:
    """Write the lines and where the chain ends now."""
    statement, columns = _line()
    rows = [
        [field.get_db_prep_save(line[name], connection) if field else line[name] for name, field in columns]
        for line in lines
    ]
    write_rows(statement, rows)
    write_rows(_MOVE_HEAD, [[head.seq, head.hash, ChainHead._meta.pk.get_db_prep_value(head.pk, connection)]])


def pseudonyms(person_ids: Iterable[UUID], *, year: int, club_id: UUID) -> dict[UUID, str]:
    """The pseudonyms of people in a year's lines, made where there is none yet.

    Two that make one for the same person wait for each other, and every act waits for the head of its chain. The order
    is one, everywhere: rows that an act locks, then the chain's head, then pseudonyms; after that nothing is locked.
    """
    if not person_ids:
        return {}
    wanted = list(dict.fromkeys(person_ids))
    known = _known_pseudonyms(wanted, year)
    if missing := [person_id for person_id in wanted if person_id not in known]:
        _hold_head(club_id)
        PseudonymKey.objects.bulk_create((_new_key(person_id, year) for person_id in missing), ignore_conflicts=True)
        known |= _known_pseudonyms(missing, year)
    return known


def _hold_head(club_id: UUID) -> None:
    """Hold the head of a chain until the commit; whoever holds it already waits for nobody."""
    ChainHead.objects.select_for_update().filter(club=club_id).values_list("seq", flat=True).first()


def _known_pseudonyms(person_ids: Sequence[UUID], year: int) -> dict[UUID, str]:
    places = ", ".join(["%s"] * len(person_ids))
    with connection.cursor() as cursor:
        cursor.execute(
            f"{_PSEUDONYMS} AND person_id IN ({places})",
            [year, *(_stored_person(one) for one in person_ids)],
        )
        return {_id(one): pseudonym for one, pseudonym in cursor.fetchall()}


def _stored_person(person_id: UUID) -> object:
    return PseudonymKey._meta.get_field("person").get_db_prep_value(person_id, connection)


def _id(value: UUID | str) -> UUID:
    return value if isinstance(value, UUID) else UUID(value)


def _new_key(person_id: UUID, year: int) -> PseudonymKey:
    key = secrets.token_bytes(32)
    pseudonym = hmac.new(key, person_id.bytes, hashlib.sha256).hexdigest()
    return PseudonymKey(person_id=person_id, year=year, key=key, pseudonym=pseudonym)
