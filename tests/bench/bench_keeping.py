"""Measures the night: counting what is due, and the rows that are removed a second once an admin has let them go.

Run it by `python -m tests.bench.bench_keeping [rows]`: on SQLite, with DATABASE_URL on PostgreSQL.
"""

import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

from django.db import connection
from django.test import override_settings
from django.test.utils import setup_databases, teardown_databases

import tests.bench.with_django  # noqa: F401
from athletes.models import KeepingStep, LedgerLine
from athletes.services.keep import begin_night, confirm_step, keep
from athletes.viewer import viewer_for
from sessions.models import Availability, Entry
from teamtrack.common.clock import today_in, utc_now
from tests.people import Scene, make_scene

ROWS = 10_000
OLD = timedelta(days=800)


def main() -> None:
    """Print the figures."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else ROWS
    databases = setup_databases(verbosity=0, interactive=False)
    with tempfile.TemporaryDirectory() as folder:
        own = {
            "ERASURE_LEDGER_FILE": Path(folder) / "ledger.jsonl",
            "HEALTH_KEYS_DIR": Path(folder) / "keys",
            "LOG_HEADS_FILE": Path(folder) / "heads.jsonl",
        }
        try:
            with override_settings(**own):
                scene = make_scene()
                make_old_rows(scene, number)
                a_night(scene)
        finally:
            teardown_databases(databases, verbosity=0)


def make_old_rows(scene: Scene, number: int) -> None:
    """Half of them what athletes logged, half what was said about coming; all over their time."""
    now, athletes = utc_now(), (scene.athlete, scene.child, scene.adult_athlete)
    Entry.objects.bulk_create(
        (
            Entry(
                club=scene.club, training_session=scene.training_session, athlete=athletes[one % 3], seq=one + 1,
                kind="felt", at=f"{now - OLD:%Y-%m-%dT%H:%M:%S}.000Z", device="phone", by=athletes[one % 3],
                by_athlete=True, received_at=now - OLD, content={"rpe": 4},
            )
            for one in range(number // 2)
        ),
        batch_size=500,
    )  # fmt: skip
    Availability.objects.bulk_create(
        (
            Availability(
                club=scene.club, athlete=athletes[one % 3], state="out", starts_at=now - OLD, ends_at=now - OLD,
                said_by=athletes[one % 3], said_as="athlete", said_at=now - OLD,
            )
            for one in range(number // 2)
        ),
        batch_size=500,
    )  # fmt: skip


def a_night(scene: Scene) -> None:
    admin = viewer_for(scene.admin, "admin")
    run = begin_night(club=scene.club, day=today_in(scene.club.timezone))
    start = time.perf_counter()
    keep(run_id=run.pk)
    counted_s = time.perf_counter() - start
    waiting = list(KeepingStep.objects.filter(run=run, state=KeepingStep.State.WAITS))
    for step in waiting:
        confirm_step(viewer=admin, step_id=step.pk)
    cpu, start = time.process_time(), time.perf_counter()
    keep(run_id=run.pk)
    whole_s = time.perf_counter() - start
    gone = sum(KeepingStep.objects.filter(run=run).values_list("removed", flat=True))
    print(f"{connection.vendor}: {len(waiting)} tables counted and kept waiting in {counted_s:.2f} s;", end=" ")
    print(f"{gone} rows removed in {whole_s:.1f} s ({time.process_time() - cpu:.1f} s of processor)", end="")
    print(f" = {gone / whole_s:.0f} a second, {LedgerLine.objects.count()} lines of the ledger", flush=True)


if __name__ == "__main__":
    main()
