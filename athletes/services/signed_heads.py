"""Signs the heads of the access log and writes them to a file that is to leave the server."""

import os
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.db import transaction

from athletes.core.chain import GENESIS, first_fault, witness_of
from athletes.log_key import sign
from athletes.models import AccessLogEntry, ChainHead, Club, SignedHead
from athletes.selectors.signed_heads import head_of, heads_in_file
from teamtrack.common.clock import utc_now

MOST_ENTRIES = 5000
"""For so many entries one head vouches at most, so that neither signing nor verifying fills the memory."""


def heads_file() -> Path:
    """Where signed heads are written, to be copied off the server: LOG_HEADS_FILE, else in the data folder."""
    return Path(settings.LOG_HEADS_FILE)


def sign_heads() -> int:
    """Sign what came since the last heads, and write to the file whatever is missing there; answers how many heads."""
    made = 0
    for club_id in Club.objects.order_by("id").values_list("pk", flat=True):
        while _sign_next(club_id):
            made += 1
    _write_missing()
    return made


@transaction.atomic
def _sign_next(club_id: UUID) -> bool:
    """One head more; none where nothing is new, or where what is new is not whole (which is never vouched for)."""
    ChainHead.objects.select_for_update().get(club_id=club_id)
    last = SignedHead.objects.filter(club_id=club_id).order_by("-seq").first()
    start = (last.seq, last.hash) if last else (0, GENESIS)
    entries = AccessLogEntry.objects.filter(club_id=club_id, seq__gt=start[0]).order_by("seq")[:MOST_ENTRIES]
    found = list(entries)
    if not found:
        return False
    links = ((row.seq, row.prev_hash, row.hash, row.chained) for row in found)
    if first_fault(links, head_seq=found[-1].seq, head_hash=found[-1].hash, start=start) is not None:
        return False
    at = utc_now()
    row = SignedHead(
        club_id=club_id,
        after_seq=start[0],
        seq=found[-1].seq,
        hash=found[-1].hash,
        witness=witness_of(entry.hash for entry in found),
        at=at,
    )
    row.signature = sign(head_of(row).signed_text)
    row.save()
    return True


def _write_missing() -> None:
    path = heads_file()
    path.parent.mkdir(parents=True, exist_ok=True)
    there = {(head.club, head.after_seq) for head in heads_in_file(path)}
    rows = SignedHead.objects.order_by("club_id", "seq").iterator(chunk_size=50)
    missing = [head.line for head in map(head_of, rows) if (head.club, head.after_seq) not in there]
    if not missing:
        return
    with path.open("a", encoding="utf-8") as out:
        out.writelines(missing)
        out.flush()
        os.fsync(out.fileno())
