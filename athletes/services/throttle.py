"""At most so many requests of one person to the API, in whichever processes they are answered.

A process counts by itself and writes a row once for every 60 requests of a person, so that an ordinary request costs no
query; of two processes each may let through up to 59 more than the row knows.
"""

import threading
from dataclasses import dataclass
from uuid import UUID

from django.utils.translation import gettext as _

from athletes.core.tries import REQUESTS, REQUESTS_A_BLOCK
from athletes.services.tries import Wait, counted, key_of
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Refused

MOST_KEPT = 5_000
"""People whom a process remembers at once; it then forgets those who asked for nothing lately."""


class TooFast(Refused):
    """Far more than a phone sends: `wait_s` seconds later it goes on."""

    status = 429

    def __init__(self, seconds: float) -> None:
        self.wait_s = max(1, round(seconds))
        super().__init__("TOO_MANY", _("Too much at once. It goes on in a minute; what waits to be sent is kept."))


@dataclass
class _Own:
    """What this process let through since `since`; nothing more before `closed_until`."""

    since: float
    count: int = 0
    closed_until: float = 0.0


class Throttle:
    """What one process knows of everybody who asks it."""

    def __init__(self) -> None:
        self._own: dict[str, _Own] = {}
        self._lock = threading.Lock()

    def count_request(self, *, person_id: UUID, is_read: bool) -> None:
        """Count a request; raises TooFast where the person is over the limit."""
        key, now = key_of("read" if is_read else "write", str(person_id)), utc_now().timestamp()
        if self._is_block_full(key, now):
            self._count_block(key, now)

    def _is_block_full(self, key: str, now: float) -> bool:
        with self._lock:
            self._forget_old(now)
            own = self._own.setdefault(key, _Own(now))
            if now - own.since >= REQUESTS.within_s:
                own.since, own.count = now, 0
            if own.closed_until > now:
                raise TooFast(own.closed_until - now)
            own.count += 1
            if own.count < REQUESTS_A_BLOCK:
                return False
            own.count = 0
            return True

    def _count_block(self, key: str, now: float) -> None:
        try:
            with counted({key: REQUESTS}):
                pass  # a block is no try that could be right: it counts
        except Wait as wait:
            with self._lock:
                self._own[key] = _Own(now, REQUESTS_A_BLOCK - 1, now + wait.wait_s)
            raise TooFast(wait.wait_s) from wait

    def _forget_old(self, now: float) -> None:
        if len(self._own) >= MOST_KEPT:
            lately = {key: own for key, own in self._own.items() if now - own.since < REQUESTS.within_s}
            self._own = lately if len(lately) < MOST_KEPT else {}


throttle = Throttle()
