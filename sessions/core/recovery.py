"""How fresh athletes are where it matters: the hours between one group's sessions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

STRENUOUS = frozenset({"hard", "meet"})


@dataclass(frozen=True, slots=True)
class Dated:
    """A session of one group: its kinds and its aware start and end."""

    id: str
    kinds: frozenset[str]
    starts_at: datetime
    ends_at: datetime


def gap_h(earlier_end: datetime, later_start: datetime) -> int:
    """Whole hours of real time from one session's end to another's start, rounded down."""
    return int((later_start.timestamp() - earlier_end.timestamp()) // 3600)


def neighbours(items: Iterable[Dated]) -> list[tuple[Dated, Dated]]:
    """Each session with the next one that begins at or after its end, in order of time."""
    ordered = sorted(items, key=lambda item: (item.starts_at, item.id))
    return [(one, other) for one, other in pairwise(ordered) if one.ends_at <= other.starts_at]


def last_strenuous_before(item: Dated, items: Sequence[Dated]) -> Dated | None:
    """The hard session or meet that ends last at or before the start of `item`."""
    earlier = [one for one in items if one.kinds & STRENUOUS and one.ends_at <= item.starts_at and one.id != item.id]
    return max(earlier, key=lambda one: one.ends_at, default=None)


def next_strenuous_after(item: Dated, items: Sequence[Dated]) -> Dated | None:
    """The hard session or meet that starts first at or after the end of `item`."""
    later = [one for one in items if one.kinds & STRENUOUS and one.starts_at >= item.ends_at and one.id != item.id]
    return min(later, key=lambda one: one.starts_at, default=None)
