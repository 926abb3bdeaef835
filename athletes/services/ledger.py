"""The ledger of what was removed and what was stopped: rows, and a file outside the database. Ids alone, no contents.

A line is written in the transaction of what it tells; after the commit it is added to the file. What a killed server
left out of the file is added by the next line, and by every night.
"""

import json
import os
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction

from athletes.models import LedgerLine
from athletes.services.access_log import pseudonyms
from teamtrack.common.clock import utc_now

Why = LedgerLine.Why
STOPPED = "stop"
"""What a line says about a no: whose, by whom, in which capacity, to which purpose."""


def ledger_file() -> Path:
    """Where the lines lie outside the database: ERASURE_LEDGER_FILE, else in the data folder."""
    return Path(settings.ERASURE_LEDGER_FILE)


def note_removed(*, club_id: UUID, what: str, why: str, by_person: dict[UUID | None, Sequence[Any]]) -> None:
    """Note that rows of `what` go, by whose rows they are; in the transaction in which they go, after they went: with
    the pseudonyms it may hold the head of the access log's chain, and what is locked is locked before that."""
    at = utc_now()
    names = pseudonyms([one for one in by_person if one], year=at.year, club_id=club_id)
    add_lines(
        LedgerLine(
            club_id=club_id, at=at, what=what, why=why, pseudonym=names.get(person, "") if person else "",
            ids=[str(one) for one in ids],
        )
        for person, ids in by_person.items()
    )  # fmt: skip


def add_lines(lines: Iterable[LedgerLine]) -> None:
    """Add lines, and after the commit add them to the file."""
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError("What goes and its line stand or fall together: open a transaction first.")
    made = LedgerLine.objects.bulk_create(lines)

    def write() -> None:
        _append([as_text(row) for row in made])

    transaction.on_commit(write, robust=True)


def write_missing() -> int:
    """Add to the file every line that is not there; answers how many."""
    known = {line["id"] for line in lines_in_file(ledger_file())}
    missing = [as_text(row) for row in LedgerLine.objects.iterator(chunk_size=1000) if str(row.pk) not in known]
    _append(missing)
    return len(missing)


def _append(texts: Sequence[str]) -> None:
    """Write lines to disk before this returns; after a line that was cut short a new one begins."""
    if not texts:
        return
    path = ledger_file()
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600), "r+b") as out:
        size = out.seek(0, os.SEEK_END)
        if size:
            out.seek(size - 1)
        is_cut = bool(size) and out.read(1) != b"\n"
        out.write((b"\n" if is_cut else b"") + "".join(texts).encode())
        out.flush()
        os.fsync(out.fileno())


def as_text(row: LedgerLine) -> str:
    """One line of the file."""
    said = {
        "id": str(row.pk), "club": str(row.club_id), "at": row.at.isoformat(), "what": row.what, "why": row.why,
        "pseudonym": row.pseudonym, "ids": row.ids,
    }  # fmt: skip
    return json.dumps(said, separators=(",", ":")) + "\n"


def lines_in_file(path: Path) -> Iterator[dict[str, Any]]:
    """The lines of a file; a last line that was cut short by a crash is left out, its row is added again."""
    if not path.exists():
        return
    with path.open(encoding="utf-8") as found:
        for text in found:
            try:
                yield json.loads(text)
            except json.JSONDecodeError:
                continue


def row_of(line: dict[str, Any]) -> LedgerLine:
    """The row of a line of the file."""
    return LedgerLine(
        id=UUID(line["id"]), club_id=UUID(line["club"]), at=datetime.fromisoformat(line["at"]), what=line["what"],
        why=line["why"], pseudonym=line["pseudonym"], ids=line["ids"],
    )  # fmt: skip
