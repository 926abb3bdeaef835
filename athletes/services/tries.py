"""Counts wrong tries in the database, so that limits hold over any number of processes.

A try is counted as wrong before it is made and forgotten where it was right: of tries at once none slips through.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.db import transaction
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from athletes.core.tries import Limit, still_counting, wait_s
from athletes.models import Tries
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Refused

KEPT = timedelta(days=1)


class Wait(Refused):
    """Too many wrong tries: this one was not even looked at. `wait_s` seconds later the next one is."""

    status = 429

    def __init__(self, seconds: float) -> None:
        self.wait_s = max(1, round(seconds))
        minutes = -(-self.wait_s // 60)
        super().__init__(
            "TOO_MANY",
            _("Too many wrong tries. Please wait %(minutes)d minutes, or ask your club. Nothing was changed.")
            % {"minutes": minutes},
        )


@dataclass
class Try:
    """One try: whoever makes it says whether it was right."""

    was_right: bool = False


def key_of(what: str, text: str) -> str:
    """The key under which tries of a name, an account or a place are counted; it tells none of them."""
    return salted_hmac(f"teamtrack.tries.{what}", text, algorithm="sha256").hexdigest()


@contextmanager
def counted(limits: Mapping[str, Limit]) -> Iterator[Try]:
    """A try that counts under several keys. Raises Wait where any of them is over its limit."""
    at = _count(limits)
    one = Try()
    try:
        yield one
    finally:
        if one.was_right:
            _forget(limits, at)


@transaction.atomic
def forget(key: str) -> None:
    """The right one came: what went wrong before does not count any more."""
    Tries.objects.filter(pk=key).delete()


def sweep() -> None:
    """Remove what counts for nothing any more."""
    Tries.objects.filter(last_at__lt=utc_now() - KEPT).delete()


@transaction.atomic
def _count(limits: Mapping[str, Limit]) -> float:
    now = utc_now()
    at = now.timestamp()
    Tries.objects.bulk_create((Tries(key=key, last_at=now) for key in sorted(limits)), ignore_conflicts=True)
    rows = list(Tries.objects.select_for_update().filter(pk__in=limits).order_by("pk"))
    waits = max(wait_s(row.failed_at, at, limits[row.key]) for row in rows)
    if waits > 0:
        raise Wait(waits)
    for row in rows:
        row.failed_at, row.last_at = [*still_counting(row.failed_at, at), at], now
    Tries.objects.bulk_update(rows, ["failed_at", "last_at"])
    return at


@transaction.atomic
def _forget(keys: Mapping[str, Limit], at: float) -> None:
    rows = list(Tries.objects.select_for_update().filter(pk__in=keys).order_by("pk"))
    for row in rows:
        row.failed_at = [one for one in row.failed_at if one != at]
        row.last_at = datetime.fromtimestamp(max(row.failed_at, default=at), UTC)
    Tries.objects.bulk_update(rows, ["failed_at", "last_at"])
