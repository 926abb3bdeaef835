"""When a question is asked, or asked anew; when somebody is reminded; by when a request is answered."""

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from athletes.core.permissions.acts import DAY_STARTS_HOUR, NIGHT_STARTS_HOUR

MONTHS_AFTER_NO = 6
"""A no is not asked again for so many months (the permissions contract)."""

MOST_REMINDERS = 2
"""A first and a second reminder, never a third (the permissions contract)."""

DAYS_BETWEEN_REMINDERS = 7
"""Days from one reminder to the next (common practice, no source)."""

MONTHS_TO_ANSWER, MONTHS_LONGER = 1, 2
"""A request is answered within a month; where it is complex, in two months more (GDPR Art. 12(3))."""

DAYS_TO_CONFIRM = 90
"""So long a guardian's yes goes on after the athlete is old enough to decide (the permissions contract)."""


def months_later(day: date, months: int) -> date:
    """The same day of the month so many months later, or that month's last day where it has no such day.

    Source: Regulation (EEC, Euratom) No 1182/71 Art. 3(2)(c).
    """
    number = day.year * 12 + day.month - 1 + months
    year, month = number // 12, number % 12 + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def due_on(received: date, *, is_extended: bool = False) -> date:
    """The last day on which a request that came in on `received` is answered in time (GDPR Art. 12(3)).

    The end of the period is not moved where it falls on a free day: the earlier day is the safe one.
    """
    return months_later(received, MONTHS_TO_ANSWER + (MONTHS_LONGER if is_extended else 0))


def may_be_asked(*, answer: str, day: date | None, today: date, is_out_of_date: bool = False) -> bool:
    """Whether a question may be put to somebody whose last answer (`yes`, `no`, `withdrawn`, or empty) is of `day`.

    Without an answer it is; a yes is asked anew once it is out of date (run out, or its wording changed in meaning); a
    no or a stop only after six months, whatever changed.
    """
    if not answer or day is None:
        return True
    if answer == "yes":
        return is_out_of_date
    return today >= months_later(day, MONTHS_AFTER_NO)


@dataclass(frozen=True, slots=True)
class NextReminder:
    """The number of a reminder and when it may be shown at the earliest, in the club's time."""

    number: int
    at: datetime


def next_reminder(*, now: datetime, earlier: int, last: datetime | None) -> NextReminder | None:
    """The reminder that may follow `earlier` ones: in daytime (08:00 to 20:59 of `now`'s zone), a week after the last.

    None after the second, and while the week has not passed.
    """
    if earlier >= MOST_REMINDERS:
        return None
    if last is not None and now < last + timedelta(days=DAYS_BETWEEN_REMINDERS):
        return None
    return NextReminder(earlier + 1, by_day(now))


def by_day(now: datetime) -> datetime:
    """`now`, or 08:00 of the coming morning where it is night (21:00 to 07:59, the permissions contract)."""
    if DAY_STARTS_HOUR <= now.hour < NIGHT_STARTS_HOUR:
        return now
    morning = now.date() + timedelta(days=1 if now.hour >= NIGHT_STARTS_HOUR else 0)
    return datetime.combine(morning, time(DAY_STARTS_HOUR), now.tzinfo)
