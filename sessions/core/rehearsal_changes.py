"""Single changes to a season: the same change on several weeks is one, told by weekday and wall hours.

What the planner offers for one week ("the venue open on Tuesday 12 October from 17:30") is read here as a change of
the season ("open on Tuesdays from 17:30") and written again for any other week of it.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import reduce
from typing import Any
from zoneinfo import ZoneInfo

from sessions.core.planner.changes import Change, Document, changed
from sessions.core.planner.faults import ProblemFaults
from sessions.core.planner.reading import read_problem

INTRUSION = ("add_window", "add_available", "add_open", "move_fixed", "set_demand", "set_policy", "drop_fixed")
"""The kinds of change from the least intrusive, as the planning contract orders them."""
LIST_OF = {
    "add_window": ("demands", "demand"),
    "add_available": ("coaches", "coach"),
    "add_open": ("venues", "venue"),
    "move_fixed": ("fixed", "id"),
    "set_demand": ("demands", "id"),
    "set_policy": ("groups", "group"),
    "drop_fixed": ("fixed", "id"),
}
"""By kind the list that holds what is changed, and the field that names it."""
MAY_HARM = frozenset({"add_window", "move_fixed", "set_demand"})
"""Kinds that could cost a week its place elsewhere: an item moved is in somebody's way, and where a session has more
starts, fewer athletes are away for it and more would have to be excused."""
GREATER_IS_WIDER = frozenset({"max_excused_share", "sessions_per_day", "excusals_per_week"})
_DAYS = range(7)
_DAY_MIN = 24 * 60


@dataclass(frozen=True, slots=True)
class WeekToHold:
    """One week of a season: its problem as the planning contract writes it, over the seven days from its Monday.

    `patterns`: by demand the session of the season's pattern that it follows from, where there is one; `left_out`: by
    demand why the problem cannot even state it.
    """

    document: Document
    patterns: Mapping[str, str] = field(default_factory=dict)
    left_out: Mapping[str, str] = field(default_factory=dict)

    @property
    def monday(self) -> str:
        """Its first day as ISO 8601 writes it."""
        return str(self.document["horizon"]["first_day"])

    def pattern_of(self, demand: str) -> str:
        """What a demand is called in every week; one that was added by hand has its own name alone."""
        return self.patterns.get(demand, demand)


@dataclass(frozen=True, slots=True)
class WeekSpan:
    """A stretch of any week: day 0 is Monday, times are of the wall clock, it ends `days` dates after its first."""

    day: int
    starts: str
    days: int
    ends: str

    @property
    def minutes(self) -> int:
        """Its length on the wall clock."""
        return self.days * _DAY_MIN + _minute(self.ends) - _minute(self.starts)

    def holds(self, other: WeekSpan) -> bool:
        """Whether the other lies in it."""
        starts, begins = (one.day * _DAY_MIN + _minute(one.starts) for one in (self, other))
        return starts <= begins and begins + other.minutes <= starts + self.minutes


@dataclass(frozen=True, slots=True)
class SeasonChange:
    """A change of one kind of the contract to one thing, on the given stretches of every week where it has some."""

    verb: str
    what: tuple[tuple[str, Any], ...]
    spans: tuple[WeekSpan, ...] = ()

    @property
    def intrusion(self) -> tuple[int, int, int, float, str]:
        """Sorts changes, the least intrusive first: by kind, then fewer days and minutes, then the smaller step."""
        return (
            INTRUSION.index(self.verb),
            len(self.spans),
            sum(span.minutes for span in self.spans),
            self._step(),
            json.dumps(self.what),
        )

    def _step(self) -> float:
        values = dict(self.what)
        if "to" not in values:
            return 0.0
        return float(values["to"]) if values.get("path") in GREATER_IS_WIDER else -float(values["to"])

    def as_json(self) -> dict[str, Any]:
        """Plain values; days from 1, Monday, to 7."""
        spans = [{"weekday": s.day + 1, "from": s.starts, "days": s.days, "until": s.ends} for s in self.spans]
        return {"verb": self.verb, **dict(self.what)} | ({"spans": spans} if spans else {})


def season_change(change: Change, week: WeekToHold) -> SeasonChange:
    """A single change of the planning contract to one week, as a change of the season."""
    ((verb, given),) = change.items()
    what = dict(given) if isinstance(given, dict) else {"id": given}
    rows, name = LIST_OF[verb]
    if rows == "demands":
        what[name] = week.pattern_of(what[name])
    spans = () if "end" not in what else (_span(what.pop("start"), what.pop("end"), week),)
    return SeasonChange(verb, tuple(sorted(what.items())), spans)


def changes_in(change: SeasonChange, week: WeekToHold) -> list[Change]:
    """The change as single changes of the contract to this week; none where the week has nothing to change."""
    what = dict(change.what)
    rows, name = LIST_OF[change.verb]
    if name in what:
        what[name] = _name_in(week, rows, what[name])
        if what[name] is None:
            return []
    if change.verb == "drop_fixed":
        return [{"drop_fixed": what["id"]}]
    if not change.spans:
        return [{change.verb: what}]
    return [{change.verb: {**what, **_dated(span, week)}} for span in change.spans]


def changed_document(change: SeasonChange, week: WeekToHold) -> Document | None:
    """The week's document with the change made; None where it changes nothing or the result would not be valid."""
    parts = changes_in(change, week)
    if not parts:
        return None
    document: Document = reduce(changed, parts, week.document)
    try:
        read_problem(document)
    except ProblemFaults:
        return None
    return document


def with_wider(changes: Iterable[SeasonChange]) -> list[SeasonChange]:
    """The changes, and for times that are added: what the weeks ask on one weekday joined to one stretch, and those
    hours on every day of the week. Each once, the least intrusive first."""
    found = set(changes)
    hours: dict[tuple[str, Any, int | None], list[WeekSpan]] = defaultdict(list)
    for change in found:
        for span in change.spans:
            if span.minutes <= _DAY_MIN:
                hours[change.verb, change.what, span.day].append(span)
                hours[change.verb, change.what, None].append(span)
    for (verb, what, day), spans in hours.items():
        whole = _joined(spans)
        days = _DAYS if day is None else (day,)
        found.add(SeasonChange(verb, what, tuple(WeekSpan(one, *whole) for one in days)))
    return sorted(found, key=lambda change: change.intrusion)


def _joined(spans: Iterable[WeekSpan]) -> tuple[str, int, str]:
    """From the earliest start to the latest end: start, dates later, end."""
    rows = list(spans)
    days, ends = max((span.days, span.ends) for span in rows)
    return min(span.starts for span in rows), days, ends


def _name_in(week: WeekToHold, rows: str, name: str) -> str | None:
    """What the thing is called in this week's document; None where the week does not have it."""
    asked = week.document[rows]
    if rows == "demands":
        return next((row["id"] for row in asked if week.pattern_of(row["id"]) == name), None)
    return name if any(row["id"] == name for row in asked) else None


def _span(start: str, end: str, week: WeekToHold) -> WeekSpan:
    first, last = (datetime.fromisoformat(text).astimezone(_zone(week)) for text in (start, end))
    days = (last.date() - first.date()).days
    day = (first.date() - date.fromisoformat(week.monday)).days
    return WeekSpan(day, f"{first:%H:%M}", days, f"{last:%H:%M}")


def _dated(span: WeekSpan, week: WeekToHold) -> dict[str, str]:
    first = date.fromisoformat(week.monday) + timedelta(days=span.day)
    ends = ((first, span.starts), (first + timedelta(days=span.days), span.ends))
    start, end = (datetime.combine(day, time.fromisoformat(wall), _zone(week)) for day, wall in ends)
    return {"start": start.isoformat(timespec="minutes"), "end": end.isoformat(timespec="minutes")}


def _zone(week: WeekToHold) -> ZoneInfo:
    return ZoneInfo(week.document["timezone"])


def _minute(wall: str) -> int:
    return 60 * int(wall[:2]) + int(wall[3:])
