"""The paper twin of a training session: a grid filled by hand and typed in later, any number of times, by anybody.

Every cell of a sheet has an anchor, an id that is never sent; what is typed into the cell replaces it. What two people
typed alike has one id and is kept once; what differs stands side by side, until one of the two is withdrawn.
"""

import hashlib
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import UUID

from sessions.core.entries.counting import Link, counting
from sessions.core.entries.values import Value


@dataclass(frozen=True, slots=True)
class Sheet:
    """A printed sheet: of which session, its number in the club (two digits or more), when it was printed."""

    session: str
    number: int
    printed_at: datetime

    @property
    def at(self) -> str:
        """When it was printed, as a browser writes it."""
        return self.printed_at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")

    @property
    def device(self) -> str:
        return f"sheet-{self.number}"


@dataclass(frozen=True, slots=True)
class Cell:
    """What was typed into one cell: `cell` names it on its sheet, `own` holds the keys of the entry's kind."""

    cell: str
    kind: str
    athlete: str
    stride: int | None
    own: Mapping[str, Value]


def hashed_id(sheet: Sheet, *said: object) -> str:
    """An id in the shape of a UUID of version 7 (RFC 9562, section 5.7): the sheet's print time in ms, then bits of the
    SHA-256 (FIPS 180-4) of the sheet and of what is said, written as JSON with sorted keys."""
    told = json.dumps([sheet.session, sheet.device, sheet.at, *said], sort_keys=True, ensure_ascii=True)
    bits = bytearray(hashlib.sha256(told.encode("ascii")).digest()[:16])
    bits[:6] = (round(sheet.printed_at.timestamp() * 1000)).to_bytes(6, "big")
    bits[6] = 0x70 | bits[6] & 0x0F
    bits[8] = 0x80 | bits[8] & 0x3F
    return str(UUID(bytes=bytes(bits)))


def anchor(sheet: Sheet, cell: str) -> str:
    """The id of a cell, which is never sent."""
    return hashed_id(sheet, cell)


def typed_entry(sheet: Sheet, typed: Cell, *, replaces: str | None = None) -> dict[str, object]:
    """The entry for what was typed; `replaces` is a withdrawal that it undoes, else it hangs on the cell's anchor."""
    content = {"kind": typed.kind, "athlete": typed.athlete, "stride": typed.stride, **typed.own}
    said = (typed.cell, content) if replaces is None else (typed.cell, content, replaces)
    return {
        "id": hashed_id(sheet, *said),
        "session": sheet.session,
        "at": sheet.at,
        "device": sheet.device,
        "replaces": replaces or anchor(sheet, typed.cell),
        **content,
    }


def withdrawal(sheet: Sheet, typed: Link) -> dict[str, object]:
    """The entry that takes back one that was typed; twice the same is one."""
    return {
        "id": hashed_id(sheet, "withdrawn", typed.id),
        "session": sheet.session,
        "kind": typed.kind,
        "athlete": typed.athlete,
        "at": sheet.at,
        "device": sheet.device,
        "replaces": typed.id,
        "withdrawn": True,
    }


def standing(sheet: Sheet, cells: Iterable[str], links: Collection[Link]) -> dict[str, tuple[str, ...]]:
    """By cell, the ids that count there, sorted: none, one, or several side by side."""
    aims = {link.id: link.replaces for link in links}
    cell_of = {anchor(sheet, cell): cell for cell in cells}
    found: dict[str, tuple[str, ...]] = {}
    for one in counting(links).ids:
        cell = cell_of.get(_end(one, aims))
        if cell is not None:
            found[cell] = (*found.get(cell, ()), one)
    return found


def entries_for(sheet: Sheet, typed: Iterable[Cell], links: Collection[Link]) -> list[dict[str, object]]:
    """The entries to send for what was typed, given what is there.

    What was taken back stays so while something else stands in its cell; where nothing does, typing it again undoes the
    withdrawal.
    """
    cells = list(typed)
    stands = standing(sheet, {one.cell for one in cells}, links)
    taken_back = {link.replaces: link.id for link in links if link.is_withdrawal}
    made = []
    for one in cells:
        entry = typed_entry(sheet, one)
        back = None if stands.get(one.cell) else taken_back.get(str(entry["id"]))
        while back is not None:
            entry = typed_entry(sheet, one, replaces=back)
            back = taken_back.get(str(entry["id"]))
        made.append(entry)
    return made


def _end(start: str, aims: Mapping[str, str | None]) -> str:
    """Where a chain of `replaces` ends, here or not; a ring ends where it closes."""
    seen: set[str] = set()
    at = start
    while (following := aims.get(at)) is not None and at not in seen:
        seen.add(at)
        at = following
    return at
