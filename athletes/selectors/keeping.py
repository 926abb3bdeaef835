"""What stands on the admin's page of keeping: holds, the club's periods, what went lately and why."""

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta

from athletes.models import ClubPeriod, Hold, LedgerLine
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound

LATELY = timedelta(days=30)
MOST_LINES = 2000
"""Lines of the ledger that the page adds up at most, the newest; each is of one person and one small transaction."""


@dataclass(frozen=True)
class Gone:
    """So many rows of one table that went on one day, and why."""

    day: date
    what: str
    why: str
    rows: int


def open_holds(viewer: Viewer) -> list[Hold]:
    """Holds in force, the first to look at again first; one query."""
    rows = Hold.objects.filter(club=_admin(viewer).club_id, lifted_on=None)
    return list(rows.select_related("athlete", "set_by").order_by("review_by", "set_on", "pk"))


def club_periods(viewer: Viewer) -> dict[str, ClubPeriod]:
    """The club's own periods by kind; one query."""
    return {row.kind: row for row in ClubPeriod.objects.filter(club=_admin(viewer).club_id)}


def gone_lately(viewer: Viewer) -> list[Gone]:
    """What was removed in the last 30 days, newest first, as numbers: the ledger holds ids alone; one query.

    What somebody said no to stands in the ledger too, but nothing went by that.
    """
    lines = LedgerLine.objects.filter(club=_admin(viewer).club_id, at__gt=utc_now() - LATELY)
    counted: Counter[tuple[date, str, str]] = Counter()
    for line in lines.exclude(why=LedgerLine.Why.SAID).order_by("-at", "-id")[:MOST_LINES]:
        counted[line.at.astimezone(viewer.now.tzinfo).date(), line.what, line.why] += len(line.ids)
    return [Gone(*place, rows) for place, rows in sorted(counted.items(), reverse=True)]


def _admin(viewer: Viewer) -> Viewer:
    if viewer.role != Role.ADMIN:
        raise NotFound()
    return viewer
