"""The week as its page draws and lists it: groups by days with the hours between, and the sessions by day."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext

from athletes.models import EventGroup
from sessions.core.iso_week import IsoWeek
from sessions.core.other_sports import in_the_way
from sessions.core.planner.problem import DEFAULT_SEPARATION_H
from sessions.core.recovery import Dated, gap_h, last_strenuous_before, neighbours, next_strenuous_after
from sessions.core.week_changes import Place
from sessions.models.season import Kind
from sessions.selectors.other_sports import PersonsSports
from sessions.selectors.week_items import WeekItem
from sessions.week_words import WeekNames, joined, kind_words, other_sport_words
from teamtrack.common.by_language import by_language
from teamtrack.common.web.week_drawing import Block, DrawnWeek, Gap, GroupRow, week_drawing

DAY_MIN = 24 * 60
FRESH_FOR_CERTAIN_H = 96
"""Beyond four days nobody asks how long ago the hard session was (common practice, no source)."""


@dataclass(frozen=True)
class SessionLine:
    """One session in the list by day, in words; `published_id` is the session that takes place for it."""

    id: str
    name: str
    kind: str
    venue: str
    words: str
    time: str
    coaches: str
    freshness: str
    stays_away: str
    easier: str = ""
    reasons: tuple[str, ...] = ()
    absent: tuple[tuple[str, str, bool], ...] = ()
    is_in_draft: bool = False
    is_pinned: bool = False
    published_id: UUID | None = None
    has_begun: bool = False


@dataclass(frozen=True)
class DayLines:
    """A day's sessions in order of time."""

    label: str
    lines: tuple[SessionLine, ...]


@dataclass(frozen=True)
class WeekPicture:
    """The drawing and the list."""

    drawn: DrawnWeek
    days: tuple[DayLines, ...]


class Elsewhere:
    """What athletes do elsewhere, beside the rules that hold that week for the groups they would stay away from."""

    def __init__(self, sports: Sequence[PersonsSports], policies: Mapping[UUID, Mapping[str, Any]]) -> None:
        self.times = {str(one.athlete.pk): one.times for one in sports}
        self.tables = {group: policy.get("separation_h", DEFAULT_SEPARATION_H) for group, policy in policies.items()}

    def why(self, item: WeekItem, zone: ZoneInfo) -> dict[str, str]:
        """By athlete who stays away from the session: "other sport Wed", where that is in the way."""
        found = {}
        for athlete in _absent_ids(item) & self.times.keys():
            for group in item.groups:
                kinds, table = (item.kind, *item.also), self.tables.get(group, {})
                met = in_the_way(kinds, item.starts_at, item.ends_at, self.times[athlete], table)
                if met is not None:
                    found[athlete] = other_sport_words(met.starts_at.astimezone(zone).date())
        return found


def _absent_ids(item: WeekItem) -> frozenset[str]:
    return item.place.absent if item.place is not None else frozenset()


@dataclass(frozen=True)
class SaidItem:
    """A session with what is said of people in it, as far as the reader may know them."""

    item: WeekItem
    stays_away: str = ""
    easier: str = ""
    reasons: tuple[str, ...] = ()
    absent: tuple[tuple[str, str, bool], ...] = ()
    has_begun: bool = False


def week_picture(
    *,
    week: IsoWeek,
    items: Sequence[WeekItem],
    groups: Sequence[EventGroup],
    names: WeekNames,
    now: datetime,
    elsewhere: Elsewhere | None = None,
) -> WeekPicture:
    """`items` are those of the week and of the days before, which only count for the hours between; `elsewhere` says
    why somebody stays away. What has begun by `now` is no longer moved."""
    elsewhere = elsewhere or Elsewhere((), {})
    said = tuple(_said_item(item, names, elsewhere, item.starts_at <= now) for item in items)
    return _picture(week, said, tuple((group.pk, group.name) for group in groups))


@by_language
def _picture(week: IsoWeek, said: tuple[SaidItem, ...], groups: tuple[tuple[UUID, str], ...]) -> WeekPicture:
    own = [one for one in said if week.starts_at <= one.item.starts_at < week.ends_at]
    items = [one.item for one in said]
    rows = _rows(week, own, groups)
    return WeekPicture(
        drawn=week_drawing(days=[day_label(week, number) for number in range(7)], rows=rows),
        days=tuple(
            DayLines(day_label(week, number), tuple(_line(one, items, week.zone) for one in of_day))
            for number in range(7)
            if (of_day := [one for one in own if _day(one.item, week) == number])
        ),
    )


def day_label(week: IsoWeek, number: int) -> str:
    """ "Mon 1 Mar"."""
    return str(date_format(week.days[number], "D j M"))


def freshness(item: WeekItem, items: Sequence[WeekItem], zone: ZoneInfo) -> str:
    """For the group most affected: hours since the last hard session, and until the next meet or hard session."""
    of_groups = [[one.dated for one in items if group in one.groups] for group in item.groups]
    before = [found for listed in of_groups if (found := last_strenuous_before(item.dated, listed))]
    after = [found for listed in of_groups if (found := next_strenuous_after(item.dated, listed))]
    parts = [
        (gettext("%(hours)d h after %(session)s"), gap_h(one.ends_at, item.starts_at), one)
        for one in sorted(before, key=lambda one: one.ends_at)[-1:]
    ] + [
        (gettext("%(hours)d h before %(session)s"), gap_h(item.ends_at, one.starts_at), one)
        for one in sorted(after, key=lambda one: one.starts_at)[:1]
    ]
    told = [(text, hours, one) for text, hours, one in parts if hours <= FRESH_FOR_CERTAIN_H]
    return "; ".join(text % {"hours": hours, "session": _said(one, zone)} for text, hours, one in told)


def _said(one: Dated, zone: ZoneInfo) -> str:
    """ "Tuesday's hard session"."""
    what = gettext("%(day)s's meet") if Kind.MEET in one.kinds else gettext("%(day)s's hard session")
    return what % {"day": date_format(one.starts_at.astimezone(zone), "l")}


def _rows(week: IsoWeek, said: Sequence[SaidItem], groups: Sequence[tuple[UUID, str]]) -> list[GroupRow]:
    rows = [_row(week, name, [one for one in said if group in one.item.groups]) for group, name in groups]
    loose = [one for one in said if not one.item.groups]
    return [*rows, _row(week, gettext("Club"), loose)] if loose else rows


def _row(week: IsoWeek, name: str, said: Sequence[SaidItem]) -> GroupRow:
    gaps = [_gap(week, one, other) for one, other in neighbours(one.item.dated for one in said)]
    return GroupRow(name=name, blocks=[_block(week, one) for one in said], gaps=gaps)


def _block(week: IsoWeek, said: SaidItem) -> Block:
    item = said.item
    starts, ends = item.starts_at.astimezone(week.zone), item.ends_at.astimezone(week.zone)
    return Block(
        day=_day(item, week),
        starts_min=starts.hour * 60 + starts.minute,
        ends_min=ends.hour * 60 + ends.minute if ends.date() == starts.date() else DAY_MIN,
        kind=item.kind,
        word=str(Kind(item.kind).label),
        time=hours_of(item, week.zone),
        handle=item.id if item.place is not None and not item.is_pinned and not said.has_begun else "",
        name=f"{item.name} {kind_words(item.kind, item.also)}",
    )


def _gap(week: IsoWeek, one: Dated, other: Dated) -> Gap:
    ends, starts = one.ends_at.astimezone(week.zone), other.starts_at.astimezone(week.zone)
    hours = gap_h(one.ends_at, other.starts_at)
    return Gap(
        from_day=min(week.day_of(ends), 6),
        from_min=ends.hour * 60 + ends.minute,
        till_day=week.day_of(starts),
        till_min=starts.hour * 60 + starts.minute,
        text=gettext("%(hours)d h") % {"hours": hours},
    )


def _day(item: WeekItem, week: IsoWeek) -> int:
    return week.day_of(item.starts_at)


def hours_of(item: WeekItem, zone: ZoneInfo) -> str:
    """ "18:00–19:30"."""
    starts, ends = item.starts_at.astimezone(zone), item.ends_at.astimezone(zone)
    return f"{starts:%H:%M}–{ends:%H:%M}"


def _said_item(item: WeekItem, names: WeekNames, elsewhere: Elsewhere, has_begun: bool) -> SaidItem:
    place = item.place
    if place is None:
        return SaidItem(item, has_begun=has_begun)
    why = elsewhere.why(item, names.zone)
    stays_away = place.absent - place.easier
    return SaidItem(
        item,
        stays_away=names.people(stays_away, why) if stays_away else "",
        easier=names.people(place.easier, why) if place.easier else "",
        reasons=tuple(map(names.told, place.reasons)),
        absent=_absent(place, names),
        has_begun=has_begun,
    )


def _line(said: SaidItem, items: Sequence[WeekItem], zone: ZoneInfo) -> SessionLine:
    item = said.item
    return SessionLine(
        id=item.id,
        name=item.name,
        kind=item.kind,
        venue=item.venue,
        words=kind_words(item.kind, item.also),
        time=hours_of(item, zone),
        coaches=joined(item.coaches),
        freshness=freshness(item, items, zone) if Kind.TECHNIQUE in (item.kind, *item.also) else "",
        stays_away=said.stays_away,
        easier=said.easier,
        reasons=said.reasons,
        absent=said.absent,
        is_in_draft=item.place is not None,
        is_pinned=item.is_pinned,
        published_id=item.published_id,
        has_begun=said.has_begun,
    )


def _absent(place: Place, names: WeekNames) -> tuple[tuple[str, str, bool], ...]:
    """Who would stay away, as far as the reader may name them: id, name, and whether an easier version is agreed."""
    known = [(one, names.athletes[one], one in place.easier) for one in place.absent if one in names.athletes]
    return tuple(sorted(known, key=lambda row: (row[1], row[0])))
