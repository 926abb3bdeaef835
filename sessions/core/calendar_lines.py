"""What a person's own calendar has told so far, brought up to what the plan says now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID, uuid5

CANCELLED_FOR = timedelta(days=30)
"""How long what no longer takes place stays as cancelled, and what is over stays at all."""


@dataclass(frozen=True, slots=True)
class Planned:
    """One session as a calendar tells it: kinds, instants, place."""

    kinds: str
    starts_at: datetime
    ends_at: datetime
    place: str


@dataclass(frozen=True, slots=True)
class Told:
    """A line as it was last told; `cancelled_at` where the session no longer takes place for this person."""

    planned: Planned
    sequence: int
    changed_at: datetime
    cancelled_at: datetime | None = None

    @property
    def is_cancelled(self) -> bool:
        return self.cancelled_at is not None


def line_id(training_session: UUID, whose: UUID) -> UUID:
    """The UID of one person's line of one session: the same for ever, and for every reader of that person's plan."""
    return uuid5(training_session, str(whose))


def lines_now(
    told: Mapping[UUID, Told], planned: Mapping[UUID, Planned], now: datetime
) -> tuple[dict[UUID, Told], set[UUID]]:
    """What the lines say now, and the ids of those that are to be forgotten.

    What changed counts one up; what is no longer planned is cancelled, counted one up, told for 30 days more and then
    forgotten, as is what has been over for 30 days. What was told before and did not change stays as it is.
    """
    lines = {uid: _brought_up(told.get(uid), one, now) for uid, one in planned.items()}
    gone = set()
    for uid, line in told.items():
        if uid in planned:
            continue
        if _is_forgotten(line, now):
            gone.add(uid)
        else:
            lines[uid] = line if line.is_cancelled else _cancelled(line, now)
    return lines, gone


def _brought_up(line: Told | None, planned: Planned, now: datetime) -> Told:
    if line is None:
        return Told(planned, 0, now)
    if line.planned == planned and not line.is_cancelled:
        return line
    return Told(planned, line.sequence + 1, now)


def _cancelled(line: Told, now: datetime) -> Told:
    return replace(line, sequence=line.sequence + 1, changed_at=now, cancelled_at=now)


def _is_forgotten(line: Told, now: datetime) -> bool:
    """Cancelled long ago, or over: what took place is not cancelled afterwards."""
    over = now - CANCELLED_FOR
    return line.planned.ends_at <= over if line.cancelled_at is None else line.cancelled_at <= over
