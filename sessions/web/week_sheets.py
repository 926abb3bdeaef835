"""The week as sheets of paper: each group's sessions by day, and each coach's."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from athletes.models import EventGroup
from sessions.core.iso_week import IsoWeek
from sessions.selectors.week_items import WeekItem
from sessions.web.week_picture import day_label, hours_of
from sessions.week_words import joined, kind_words


@dataclass(frozen=True)
class SheetLine:
    """One session on paper."""

    day: str
    time: str
    kind: str
    words: str
    name: str
    venue: str
    coaches: str


@dataclass(frozen=True)
class Sheet:
    """One group's page, or one coach's part of the rota."""

    name: str
    lines: tuple[SheetLine, ...]


def group_sheets(items: Sequence[WeekItem], groups: Sequence[EventGroup], week: IsoWeek) -> list[Sheet]:
    """One sheet for each group that trains this week."""
    own = _of_week(items, week)
    found = [Sheet(group.name, _lines([one for one in own if group.pk in one.groups], week)) for group in groups]
    return [sheet for sheet in found if sheet.lines]


def rota(items: Sequence[WeekItem], week: IsoWeek) -> list[Sheet]:
    """Who leads what, by coach."""
    led: dict[str, list[WeekItem]] = defaultdict(list)
    for item in _of_week(items, week):
        for coach in item.coaches:
            led[coach].append(item)
    return [Sheet(coach, _lines(led[coach], week)) for coach in sorted(led)]


def _of_week(items: Iterable[WeekItem], week: IsoWeek) -> list[WeekItem]:
    return [item for item in items if week.starts_at <= item.starts_at < week.ends_at]


def _lines(items: Iterable[WeekItem], week: IsoWeek) -> tuple[SheetLine, ...]:
    return tuple(
        SheetLine(
            day=day_label(week, week.day_of(item.starts_at)),
            time=hours_of(item, week.zone),
            kind=item.kind,
            words=kind_words(item.kind, item.also),
            name=item.name,
            venue=item.venue,
            coaches=joined(item.coaches),
        )
        for item in items
    )
