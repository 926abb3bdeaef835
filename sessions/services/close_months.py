"""Counts the club's numbers of a month once it is over: kept without ids, so that they stay when rows go."""

from collections import defaultdict
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Min

from athletes.core.club_numbers import shown_number, shown_numbers
from athletes.models import Club, EventGroup, MonthNumbers
from sessions.models import Entry, EntryKind, TrainingSession
from teamtrack.common.clock import utc_now

RULE = 2
"""The version of what is counted and hidden; a closed month keeps the rule by which it was closed."""

CAME = "came"


def close_months(*, club: Club, day: date) -> int:
    """Close every month that is over on `day` and not closed yet, the oldest first; answers how many."""
    first = TrainingSession.objects.filter(club=club).aggregate(first=Min("starts_at"))["first"]
    if first is None:
        return 0
    month = first.astimezone(ZoneInfo(club.timezone)).date().replace(day=1)
    closed = set(MonthNumbers.objects.filter(club=club).values_list("month", flat=True))
    made = []
    while (following := (month + timedelta(days=31)).replace(day=1)) <= day:
        if month not in closed and not any(later > month for later in closed):
            made.append(MonthNumbers(
                club=club, month=month, rule=RULE, numbers=_numbers(club, month, following), closed_at=utc_now(),
            ))  # fmt: skip
        month = following
    return len(MonthNumbers.objects.bulk_create(made, ignore_conflicts=True))


def _numbers(club: Club, first: date, following: date) -> list[dict[str, object]]:
    """Sessions held, and by group how many athletes came to one; a number that singles somebody out is none."""
    zone = ZoneInfo(club.timezone)
    begins, ends = (datetime.combine(one, time.min, zone) for one in (first, following))
    held = TrainingSession.objects.filter(
        club=club, starts_at__gte=begins, starts_at__lt=ends, state=TrainingSession.State.PUBLISHED
    )
    came: dict[str, set[object]] = defaultdict(set)
    here = Entry.objects.filter(
        training_session__in=held, kind=EntryKind.PRESENCE, withdrawn=False, content__state=CAME
    )
    for athlete, group in here.values_list("athlete_id", "training_session__groups__id").distinct():
        came[str(group)].add(athlete)
    names = {str(pk): name for pk, name in EventGroup.objects.filter(club=club).values_list("pk", "name")}
    of_groups = {group: people for group, people in came.items() if group in names}
    shown = shown_numbers(of_groups, others=set().union(*came.values()))
    pain = Entry.objects.filter(training_session__in=held, kind=EntryKind.PAIN, withdrawn=False)
    hurt = pain.values("athlete_id").distinct().count()
    return [
        {"what": "sessions", "group": "", "number": held.count()},
        {"what": "came", "group": "", "number": shown.everybody},
        *({"what": "came", "group": names[group], "number": number} for group, number in sorted(shown.groups.items())),
        {"what": "pain_notes", "group": "", "number": shown_number(hurt, about_health=True)},
    ]
