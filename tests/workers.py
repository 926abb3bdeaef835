"""A real Celery worker beside a test, with a queue of its own; threads that give their database connection back."""

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from celery.contrib.testing.worker import start_worker
from django.conf import settings
from django.db import connection
from kombu import pools

from teamtrack.celery import app


@contextmanager
def celery_worker(task: str) -> Iterator[None]:
    """A worker in a thread that takes this task alone: over Redis where the tests have it, else in memory."""
    queue = f"test-{os.getpid()}-{task}"
    app.loader.import_default_modules()
    before = {name: app.conf[name] for name in ("broker_url", "broker_transport_options", "task_routes")}
    changed = {"task_routes": {task: {"queue": queue}}}
    if not settings.REDIS_URL:
        changed |= {"broker_url": "memory://", "broker_transport_options": {}}
    _configure(changed)
    try:
        with start_worker(app, pool="solo", perform_ping_check=False, queues=[queue], shutdown_timeout=30):
            yield
    finally:
        _configure(before)


def _configure(values: dict[str, Any]) -> None:
    """Change the broker: connections kept for the old one are dropped."""
    app.conf.update(values)
    pools.reset()
    app._after_fork()


def in_threads(*works: Callable[[], Any]) -> list[Any]:
    """Run all at once, each with a database connection of its own; what each gave back, or its exception."""
    results: list[Any] = [None] * len(works)
    barrier = threading.Barrier(len(works))

    def run(number: int, work: Callable[[], Any]) -> None:
        barrier.wait()
        try:
            results[number] = work()
        except Exception as error:
            results[number] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results
