"""The single rules, each said once: what keeps an athlete, a coach or a venue from one more item.

The whole-plan check, the model's tables and the explanations all ask these functions.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from sessions.core.planner.attendance import AthleteRules
from sessions.core.planner.local_time import LocalTime, week_of
from sessions.core.planner.problem import Coach, Item, Kind, Span


class Rule(StrEnum):
    """The rules as the plan names them, in the order in which they are asked."""

    WINDOW = "window"
    LANES = "lanes"
    COACHES = "coaches"
    OBSERVERS = "observers"
    ATTENDANCE = "attendance"
    SEPARATION = "separation"
    SESSIONS_PER_DAY = "sessions_per_day"
    REST_DAYS = "rest_days"
    MINUTES = "minutes"
    COST = "cost"


class Code(StrEnum):
    """What exactly is wrong, for the page to put into words."""

    PLACED_TWICE = "placed_twice"
    OFF_GRID = "off_grid"
    OUTSIDE_WINDOWS = "outside_windows"
    VENUE_NOT_LISTED = "venue_not_listed"
    VENUE_CLOSED = "venue_closed"
    COACH_NOT_LISTED = "coach_not_listed"
    COACH_NOT_AVAILABLE = "coach_not_available"
    OBSERVERS_COUNT = "observers_count"
    NONE_QUALIFIED = "none_qualified"
    COACH_BUSY = "coach_busy"
    COACH_TRAVELS = "coach_travels"
    COACH_DAY_FULL = "coach_day_full"
    LANES_FULL = "lanes_full"
    ALL_AWAY = "all_away"
    EXCUSED_WITHOUT_PLACE = "excused_without_place"
    TOO_MANY_EXCUSED = "too_many_excused"
    EXCUSALS_USED_UP = "excusals_used_up"
    UNAVAILABLE = "unavailable"
    OVERLAP = "overlap"
    TOO_SOON = "too_soon"
    DAY_FULL = "day_full"
    NO_REST_DAY = "no_rest_day"
    TOO_MANY_MINUTES = "too_many_minutes"


@dataclass(frozen=True)
class Obstacle:
    """One reason against an item, with the other items that take part in it."""

    rule: Rule
    code: Code
    others: tuple[str, ...] = ()


def needed_gap(separation: Mapping[tuple[Kind, Kind], int], earlier: frozenset[Kind], later: frozenset[Kind]) -> int:
    """Minutes between the end of an item of the earlier kinds and the start of one of the later kinds."""
    return max((separation.get((first, second), 0) for first in earlier for second in later), default=0)


def blocked_starts(
    separation: Mapping[tuple[Kind, Kind], int], kinds: frozenset[Kind], duration_min: int, other: Item
) -> tuple[int, int]:
    """(low, high): an item of these kinds and this length clashes with `other` just if low < its start < high."""
    low = other.start - duration_min - needed_gap(separation, kinds, other.kinds)
    return low, other.end + needed_gap(separation, other.kinds, kinds)


def is_too_near(separation: Mapping[tuple[Kind, Kind], int], item: Item, other: Item) -> bool:
    low, high = blocked_starts(separation, item.kinds, item.end - item.start, other)
    return low < item.start < high


def most_used_dates(rest_days: int, dates_of_fixed: int) -> int:
    """How many dates of an ISO week an athlete may use, given those that fixed items use anyway."""
    return max(7 - rest_days, dates_of_fixed)


def athlete_obstacles(rules: AthleteRules, local: LocalTime, item: Item, others: Sequence[Item]) -> list[Obstacle]:
    """Why the athlete cannot attend the placed `item` beside the others, in the order of the rules."""
    found = []
    if rules.is_unavailable(item.start, item.end):
        found.append(Obstacle(Rule.ATTENDANCE, Code.UNAVAILABLE))
    for other in others:
        if is_too_near(rules.separation, item, other):
            overlap = item.start < other.end and other.start < item.end
            found.append(Obstacle(Rule.SEPARATION, Code.OVERLAP if overlap else Code.TOO_SOON, (other.id,)))
    date = local.date(item.start)
    week = [other for other in others if local.week(other.start) == week_of(date)]
    today = tuple(other.id for other in week if local.date(other.start) == date)
    if rules.sessions_per_day is not None and len(today) + 1 > rules.sessions_per_day:
        found.append(Obstacle(Rule.SESSIONS_PER_DAY, Code.DAY_FULL, today))
    fixed_dates = {local.date(other.start) for other in week if other.is_fixed}
    dates = {local.date(other.start) for other in week} | {date}
    if date not in fixed_dates and len(dates) > most_used_dates(rules.rest_days_per_week, len(fixed_dates)):
        found.append(Obstacle(Rule.REST_DAYS, Code.NO_REST_DAY, tuple(other.id for other in week)))
    cap = rules.weekly_minutes_cap
    if cap is not None and item.load_min + sum(other.load_min for other in week) > cap:
        found.append(Obstacle(Rule.MINUTES, Code.TOO_MANY_MINUTES, tuple(other.id for other in week)))
    return found


def is_coach_available(coach: Coach, start: int, end: int) -> bool:
    return lies_in_one(coach.available, start, end)


def lies_in_one(spans: Iterable[Span], start: int, end: int) -> bool:
    return any(span.holds(start, end) for span in spans)


def coach_obstacles(
    coach: Coach, travel_min: int, local: LocalTime, item: Item, others: Sequence[Item]
) -> list[Obstacle]:
    """Why the coach cannot lead the item beside the others that the coach leads (rule 3)."""
    found = []
    for other in others:
        needs_travel = item.venue is not None and other.venue is not None and item.venue != other.venue
        gap = travel_min if needs_travel else 0
        if item.start < other.end and other.start < item.end:
            found.append(Obstacle(Rule.COACHES, Code.COACH_BUSY, (other.id,)))
        elif item.start < other.end + gap and other.start < item.end + gap:
            found.append(Obstacle(Rule.COACHES, Code.COACH_TRAVELS, (other.id,)))
    date = local.date(item.start)
    today = tuple(other.id for other in others if local.date(other.start) == date)
    if len(today) + 1 > coach.max_sessions_per_day:
        found.append(Obstacle(Rule.COACHES, Code.COACH_DAY_FULL, today))
    return found


def lanes_in_use(items: Sequence[Item], start: int, end: int) -> int:
    """The most lanes that the items use together at one instant of [start, end)."""
    instants = {start} | {item.start for item in items if start < item.start < end}
    return max(sum(item.lanes for item in items if item.start <= instant < item.end) for instant in instants)
