"""The two clocks: the real one, and the club's, whose day a demo may shift."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings


def utc_now() -> datetime:
    """Real time: sign-in, cookies, codes, the access log and signatures go by it."""
    return datetime.now(UTC)


def now_in(zone: str) -> datetime:
    """The club's time: real time of day, on a day shifted by the demo's `--today`."""
    local = utc_now().astimezone(ZoneInfo(zone))
    if not settings.CLUB_DAY_SHIFT:
        return local
    return (local.replace(tzinfo=None) + timedelta(days=settings.CLUB_DAY_SHIFT)).replace(tzinfo=ZoneInfo(zone))


def today_in(zone: str) -> date:
    """The club's date."""
    return now_in(zone).date()
