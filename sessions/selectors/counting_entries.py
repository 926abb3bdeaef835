"""Which of some entries, of any training sessions, count: each session judged by itself."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Protocol, TypeVar
from uuid import UUID

from sessions.core.entries.counting import Link, counting

LINKED = ("pk", "training_session_id", "kind", "athlete_id", "by_id", "replaces", "withdrawn")
"""The columns that `Linked` names, in its order."""


class Linked(Protocol):
    """What is needed of a row of the table of entries: the row itself, or these values of it."""

    pk: UUID
    training_session_id: UUID
    kind: str
    athlete_id: UUID
    by_id: UUID
    replaces: UUID | None
    withdrawn: bool


R = TypeVar("R", bound=Linked)


def ids_that_count(rows: Iterable[Linked]) -> set[UUID]:
    """The ids of those of `rows` that count.

    `rows` holds all corrections of what it holds, whatever athlete they name, for without them a corrected entry would
    count still.
    """
    links: dict[UUID, list[Link]] = defaultdict(list)
    ids: dict[str, UUID] = {}
    for row in rows:
        link = _link(row)
        links[row.training_session_id].append(link)
        ids[link.id] = row.pk
    return {ids[entry_id] for of_session in links.values() for entry_id in counting(of_session).ids}


def entries_that_count(rows: Iterable[R]) -> list[R]:
    """Those of `rows` that count, in the order given; `rows` as above."""
    entries = list(rows)
    ids = ids_that_count(entries)
    return [row for row in entries if row.pk in ids]


def _link(row: Linked) -> Link:
    replaces = str(row.replaces) if row.replaces else None
    return Link(str(row.pk), row.kind, str(row.athlete_id), str(row.by_id), replaces, row.withdrawn)
