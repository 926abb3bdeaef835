"""The worker's heartbeat, outside the database: a file in the data folder, or a key in Redis."""

import logging
import time
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings

FRESH_S = 20.0


def beat(queue: str) -> None:
    """Say that a worker of `queue` lives."""
    if settings.REDIS_URL:
        _redis().set(f"heartbeat:{queue}", str(time.time()), ex=int(FRESH_S))
    else:
        path = _file(queue)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()


def beat_if_possible(queue: str) -> None:
    """Beat; where that fails for a moment, the next one may succeed."""
    try:
        beat(queue)
    except Exception:
        logging.getLogger(__name__).warning("no heartbeat", exc_info=True)


def is_alive(queue: str) -> bool:
    """Whether a worker of `queue` was heard of lately."""
    if settings.REDIS_URL:
        return bool(_redis().exists(f"heartbeat:{queue}"))
    try:
        return time.time() - _file(queue).stat().st_mtime < FRESH_S
    except FileNotFoundError:
        return False


def forget(queue: str) -> None:
    """Count no heartbeat of before: said by whoever starts the workers anew."""
    if settings.REDIS_URL:
        _redis().delete(f"heartbeat:{queue}")
    else:
        _file(queue).unlink(missing_ok=True)


def _file(queue: str) -> Path:
    return Path(settings.DATA_DIR) / "queue" / f"heartbeat-{queue}"


@cache
def _redis() -> Any:
    import redis

    return redis.Redis.from_url(settings.REDIS_URL, socket_connect_timeout=1, socket_timeout=1)
