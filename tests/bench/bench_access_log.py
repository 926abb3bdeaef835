"""Measures the access log: verifying many entries, and its share of a write.

Run it by `python -m tests.bench.bench_access_log [entries]` (a million if not said).
"""

import sys
import time
import tracemalloc
from collections.abc import Iterator

from django.db import connection, transaction
from django.test.utils import setup_databases, teardown_databases

import tests.bench.with_django  # noqa: F401
from athletes.core.chain import GENESIS, entry_hash
from athletes.models import AccessLogEntry, ChainHead
from athletes.selectors.access_log import chain_fault
from athletes.services import access_log
from athletes.services.signed_heads import sign_heads
from athletes.viewer import viewer_for
from sessions.access import get_part
from sessions.services import record_entries as recording
from teamtrack.common.clock import utc_now
from tests.api.entry_posts import entry
from tests.people import Scene, make_scene

ENTRIES, WRITES, AT_ONCE = 1_000_000, 300, 5000


def main() -> None:
    """Print the figures."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else ENTRIES
    databases = setup_databases(verbosity=0, interactive=False)
    try:
        scene = make_scene()
        share_of_a_write(scene)
        verifying(scene, number)
    finally:
        teardown_databases(databases, verbosity=0)


def share_of_a_write(scene: Scene) -> None:
    part = get_part(viewer_for(scene.coach), scene.training_session.pk)
    spent = [0.0]
    whole_log_acts = access_log.log_acts

    def timed(**given: object) -> None:
        start = time.perf_counter()
        whole_log_acts(**given)  # type: ignore[arg-type]
        spent[0] += time.perf_counter() - start

    recording.log_acts = timed
    start = time.perf_counter()
    for _ in range(WRITES):
        recording.record_entries(part=part, posted=[entry("cue", scene.athlete, scene.training_session, stride=1)])
    whole_s = time.perf_counter() - start
    recording.log_acts = whole_log_acts
    print(f"{connection.vendor}: a write of one entry {whole_s / WRITES * 1e3:.2f} ms", end="")
    print(f", its log line {spent[0] / WRITES * 1e3:.2f} ms = {spent[0] / whole_s:.0%}", flush=True)


def verifying(scene: Scene, number: int) -> None:
    club = scene.stranger_club
    with transaction.atomic():
        batch = []
        for row in _entries(club.pk, number):
            batch.append(row)
            if len(batch) == AT_ONCE:
                AccessLogEntry.objects.bulk_create(batch)
                batch = []
        AccessLogEntry.objects.bulk_create(batch)
        ChainHead.objects.filter(club=club).update(seq=number, hash=row.hash)
    start = time.perf_counter()
    print(f"{sign_heads()} heads signed in {time.perf_counter() - start:.1f} s", flush=True)
    cpu, start = time.process_time(), time.perf_counter()
    fault = chain_fault(club_id=club.pk)
    print(f"{number} entries verified in {time.perf_counter() - start:.1f} s", end="")
    print(f" ({time.process_time() - cpu:.1f} s of processor), whole: {fault is None}", flush=True)
    tracemalloc.start()
    chain_fault(club_id=club.pk)
    print(f"peak of its memory {tracemalloc.get_traced_memory()[1] / 1e6:.0f} MB", flush=True)


def _entries(club_id: object, number: int) -> Iterator[AccessLogEntry]:
    last, at = GENESIS, utc_now()
    for seq in range(1, number + 1):
        row = AccessLogEntry(
            club_id=club_id, seq=seq, at=at, actor="a" * 64, actor_role="coach", verb="read", kind="pain",
            subject="b" * 64, fields=["place", "side", "words"], code="CONSENT_OK", prev_hash=last,
        )  # fmt: skip
        row.hash = last = entry_hash(last, row.chained)
        yield row


if __name__ == "__main__":
    main()
