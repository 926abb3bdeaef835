"""What a Celery worker says of itself: a heartbeat for each of its queues, from a thread beside the work."""

import threading
from collections.abc import Iterable
from typing import Any

from celery.signals import beat_embedded_init, worker_init, worker_ready, worker_shutdown

from teamtrack.common.serving.parent_death import end_with_parent

_over = threading.Event()


@beat_embedded_init.connect(weak=False)
def end_beat_with_worker(**_: Any) -> None:
    """A killed worker must not leave its beat behind, else two would run."""
    end_with_parent()


@worker_init.connect(weak=False)
def refuse_owner(**_: Any) -> None:
    """A worker serves with the login that owns nothing, as the web does."""
    from teamtrack.common.serving.start import check_before_serving

    check_before_serving()


@worker_ready.connect(weak=False)
def begin_heartbeat(sender: Any, **_: Any) -> None:
    """Beat until the worker ends, also while it is busy with one long task."""
    _over.clear()
    queues = tuple(sender.app.amqp.queues.consume_from)
    threading.Thread(target=_beat_until_over, args=(queues,), daemon=True).start()


@worker_shutdown.connect(weak=False)
def end_heartbeat(**_: Any) -> None:
    _over.set()


def _beat_until_over(queues: Iterable[str]) -> None:
    from teamtrack.celery_settings import HEARTBEAT_EVERY_S
    from teamtrack.common.heartbeat import beat_if_possible

    while True:
        for queue in queues:
            beat_if_possible(queue)
        if _over.wait(HEARTBEAT_EVERY_S):
            return
