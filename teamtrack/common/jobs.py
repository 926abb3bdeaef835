"""Background work as rows: made in the caller's transaction, claimed once, leased, swept when a worker was lost."""

import threading
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timedelta
from uuid import UUID

from django.db import OperationalError, connection
from django.db.models import F, Q

from teamtrack.common.clock import utc_now
from teamtrack.common.models import Job
from teamtrack.common.queue import enqueue

LEASE = timedelta(seconds=15)
RENEW_EVERY_S = 3.0
MOST_ATTEMPTS = 3


def add_job(*, club_id: UUID, task: str, target_id: UUID, due_at: datetime | None = None) -> Job:
    """Note work to be done; woken for once the caller's transaction is committed, or by the sweep when due."""
    job = Job.objects.create(club_id=club_id, task=task, target_id=target_id, made_at=utc_now(), due_at=due_at)
    if due_at is None:
        enqueue(task, str(job.pk))
    return job


def claim_job(job_id: UUID | str) -> Job | None:
    """Take a waiting job, or one whose worker was lost; None where somebody else has it or it is done."""
    now, holder = utc_now(), uuid.uuid4()
    free = Q(state=Job.State.WAITING) | Q(state=Job.State.RUNNING, lease_until__lt=now)
    taken = Job.objects.filter(free, _due(now), pk=job_id).update(
        state=Job.State.RUNNING, holder=holder, lease_until=now + LEASE, attempts=F("attempts") + 1
    )
    return Job.objects.get(pk=job_id) if taken == 1 else None


def end_job(job: Job, *, failed: bool = False) -> bool:
    """Close a job that we still hold; False where the lease was lost to another worker."""
    state = Job.State.FAILED if failed else Job.State.DONE
    held = Job.objects.filter(pk=job.pk, holder=job.holder, state=Job.State.RUNNING)
    return held.update(state=state, ended_at=utc_now(), lease_until=None) == 1


@contextmanager
def leased(job: Job) -> Iterator[None]:
    """Renew the lease of a job beside the work, from a thread with a database connection of its own."""
    over = threading.Event()
    thread = threading.Thread(target=_renew_until, args=(job, over), daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def sweep_jobs(wake: Callable[[str, str], None] = enqueue) -> int:
    """Wake workers for jobs that wait or whose worker was lost; give up after three tries. Returns how many."""
    now = utc_now()
    lost = Q(state=Job.State.RUNNING, lease_until__lt=now)
    Job.objects.filter(lost, attempts__gte=MOST_ATTEMPTS).update(state=Job.State.FAILED, ended_at=now)
    late = Q(state=Job.State.WAITING, made_at__lt=now - timedelta(seconds=2))
    due = list(Job.objects.filter(lost | late, _due(now)).values_list("task", "pk"))
    for task, pk in due:
        wake(task, str(pk))
    return len(due)


def _due(now: datetime) -> Q:
    return Q(due_at__isnull=True) | Q(due_at__lte=now)


def _renew_until(job: Job, over: threading.Event) -> None:
    """A renewal that the database is too busy for is made up by the next one: a lease outlasts several."""
    try:
        while not over.wait(RENEW_EVERY_S):
            with suppress(OperationalError):
                Job.objects.filter(pk=job.pk, holder=job.holder).update(lease_until=utc_now() + LEASE)
    finally:
        connection.close()
