"""When a message about the plan leaves: the permissions contract's quiet hours and twelve hours, both clock changes."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from sessions.core.sending import is_quiet, is_urgent, leaves_at

DUBLIN = ZoneInfo("Europe/Dublin")


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=DUBLIN)


@pytest.mark.parametrize(
    ("clock", "quiet"), [("20:59", False), ("21:00", True), ("00:00", True), ("07:59", True), ("08:00", False)]
)
def test_quiet_hours_are_those_of_the_contract(clock: str, quiet: bool) -> None:
    """contracts, permissions, act message: 21:00 to 07:59."""
    assert is_quiet(at(f"2027-03-02T{clock}"), DUBLIN) is quiet


@pytest.mark.parametrize(
    ("hours", "off", "urgent"), [(48, True, True), (12, False, False), (11.9, False, True), (48, False, False)]
)
def test_called_off_or_within_twelve_hours_is_urgent(hours: float, off: bool, urgent: bool) -> None:
    now = at("2027-03-02T22:00")
    assert is_urgent(is_called_off=off, starts_at=now + timedelta(hours=hours), changed_at=now) is urgent


@pytest.mark.parametrize(
    ("changed", "leaves"),
    [
        ("2027-03-02T12:00", "2027-03-02T12:10"),
        ("2027-03-02T20:49", "2027-03-02T20:59"),
        ("2027-03-02T20:50", "2027-03-03T08:00"),
        ("2027-03-02T23:00", "2027-03-03T08:00"),
        ("2027-03-03T03:00", "2027-03-03T08:00"),
        ("2027-03-27T22:00", "2027-03-28T08:00"),  # clocks go forward that night
        ("2027-10-30T22:00", "2027-10-31T08:00"),  # and back
    ],
)
def test_what_can_wait_leaves_by_day(changed: str, leaves: str) -> None:
    assert leaves_at(changed_at=at(changed), zone=DUBLIN) == at(leaves)
