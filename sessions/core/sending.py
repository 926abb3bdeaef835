"""When a message about the plan may leave: at once where it cannot wait, else by day, with time to undo a slip."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

DAY_STARTS_HOUR, NIGHT_STARTS_HOUR = 8, 21
"""Quiet hours by the club's clock, 21:00 to 07:59 (the permissions contract)."""

URGENT_BEFORE_START = timedelta(hours=12)
"""A change this near to its start is told at once, also at night (the permissions contract)."""

TIME_TO_UNDO = timedelta(minutes=10)
"""Common practice, no source: a slip is seen within minutes, and then nobody has been told of it."""


def is_urgent(*, is_called_off: bool, starts_at: datetime, changed_at: datetime) -> bool:
    """Whether a change cannot wait: the session is called off, or starts within twelve hours of the change."""
    return is_called_off or starts_at - changed_at < URGENT_BEFORE_START


def is_quiet(moment: datetime, zone: ZoneInfo) -> bool:
    """Whether it is night on the club's clock."""
    return not DAY_STARTS_HOUR <= moment.astimezone(zone).hour < NIGHT_STARTS_HOUR


def leaves_at(*, changed_at: datetime, zone: ZoneInfo) -> datetime:
    """When a change that can wait is sent: after the time to undo it, in quiet hours at the end of the night."""
    wanted = changed_at + TIME_TO_UNDO
    if not is_quiet(wanted, zone):
        return wanted
    local = wanted.astimezone(zone)
    day = local.date() + timedelta(days=local.hour >= NIGHT_STARTS_HOUR)
    return datetime(day.year, day.month, day.day, DAY_STARTS_HOUR, tzinfo=zone)
