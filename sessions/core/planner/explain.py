"""Why a demand was left out: every start on the grid under the first rule that blocks it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from sessions.core.planner.limits import (
    Code,
    Rule,
    athlete_obstacles,
    coach_obstacles,
    is_coach_available,
    is_too_near,
    lanes_in_use,
    lies_in_one,
)
from sessions.core.planner.local_time import DAY_MIN, day_name
from sessions.core.planner.problem import Coach, Demand, Item, Placement
from sessions.core.planner.rules import Nearby, RuleBook

_ATHLETE_RULES = (Rule.ATTENDANCE, Rule.SEPARATION, Rule.SESSIONS_PER_DAY, Rule.REST_DAYS, Rule.MINUTES)
_SENTENCES = {
    Rule.WINDOW: "{starts}: no venue of it is open, or none of its coaches is available, for the whole of it.",
    Rule.LANES: "{starts}: no open venue has the lanes.",
    Rule.COACHES: "{starts}: every coach who is available leads something else then, or has led enough that day.",
    Rule.OBSERVERS: "{starts}: too few coaches are free, or none who is qualified.",
    Rule.ATTENDANCE: "{starts}: too many athletes are unavailable.",
    Rule.SEPARATION: "{starts}: too near in time to other sessions of too many athletes.",
    Rule.SESSIONS_PER_DAY: "{starts}: too many athletes have their sessions of that day already.",
    Rule.REST_DAYS: "{starts}: too many athletes would be left without their rest days.",
    Rule.MINUTES: "{starts}: too many athletes would go over their minutes of the week.",
    Rule.COST: "{starts}: possible, but dearer than to leave the session out.",
}


@dataclass(frozen=True)
class Block:
    """The rule that keeps a demand from one start, and the items that take part."""

    rule: Rule
    items: frozenset[str] = frozenset()


class Explainer:
    """Explains one plan of one problem."""

    def __init__(self, book: RuleBook, placements: Sequence[Placement]) -> None:
        self.book = book
        self.problem = book.problem
        self.placements = placements
        pairs = [(placement, self.problem.item_of(placement)) for placement in placements]
        self.placed = [item for _, item in pairs]
        self.items = (*book.fixed, *self.placed)
        self.diaries = {
            athlete: Nearby(items, max(book.attendance.rules[athlete].separation.values(), default=0) + 7 * DAY_MIN)
            for athlete, items in book.diaries(pairs).items()
        }
        self.nearby = Nearby(self.items, self.problem.policy.travel_min + DAY_MIN)
        self.excusals: dict[tuple[str, int], int] = defaultdict(int)
        for placement, item in pairs:
            for athlete in placement.excused:
                self.excusals[athlete, book.local.week(item.start)] += 1

    def because(self, demand: Demand) -> list[dict[str, Any]]:
        """The contract's rows for a demand that was left out; the counts add up to all its starts."""
        starts = self.problem.starts[demand.id]
        blocks = [self.block(demand, start) for start in starts]
        rows = []
        for rule in Rule:
            of_rule = [block for block in blocks if block.rule is rule]
            if of_rule:
                items = sorted(frozenset().union(*(block.items for block in of_rule)))
                met = [start for start, block in zip(starts, blocks, strict=True) if block.rule is rule]
                text = _SENTENCES[rule].format(starts=self._starts_words(met))
                rows.append({"rule": rule.value, "items": items, "starts_blocked": len(of_rule), "text": text})
        return rows

    def _starts_words(self, starts: Sequence[int]) -> str:
        """How many starts, and on which days."""
        dates = sorted({self.book.local.date(start) for start in starts})
        days = list(dict.fromkeys(day_name(date) for date in dates))
        some = f"{', '.join(days[:-1])} and {days[-1]}" if len(days) > 1 else days[0]
        count = "1 start" if len(starts) == 1 else f"{len(starts)} starts"
        return f"{count} {'on all seven days' if len(days) == 7 else 'on ' + some}"

    def block(self, demand: Demand, start: int) -> Block:
        """The first rule that blocks the start, with all placed demands left where they are."""
        end = start + demand.duration_min
        venues = [name for name in demand.venues if lies_in_one(self.problem.venues[name].open, start, end)]
        able = [self.problem.coaches[name] for name in demand.coaches]
        able = [coach for coach in able if is_coach_available(coach, start, end)]
        if not venues or not able:
            return Block(Rule.WINDOW)
        roomy = [venue for venue in venues if self._has_lanes(demand, venue, start)]
        if not roomy:
            beside = [item for item in self.items if item.venue in venues and item.start < end and start < item.end]
            return Block(Rule.LANES, frozenset(item.id for item in beside))
        by_coach = max((self._coach_block(demand, venue, able, start) for venue in roomy), key=_how_far)
        return self._athlete_block(demand, start) if by_coach is None else by_coach

    def _has_lanes(self, demand: Demand, venue: str, start: int) -> bool:
        end = start + demand.duration_min
        beside = [item for item in self.items if item.venue == venue and item.start < end and start < item.end]
        return lanes_in_use(beside, start, end) + demand.lanes <= self.problem.venues[venue].lanes

    def _coach_block(self, demand: Demand, venue: str, able: list[Coach], start: int) -> Block | None:
        """Rules 3 and 2 at one venue; None if enough coaches are free there."""
        item = self.problem.item_of(Placement(demand.id, start, venue, ()))
        near = self.nearby.to(item)
        free: set[str] = set()
        met: set[str] = set()
        for coach in able:
            led = [other for other in near if coach.id in other.coaches]
            obstacles = coach_obstacles(coach, self.problem.policy.travel_min, self.book.local, item, led)
            met.update(other for obstacle in obstacles for other in obstacle.others)
            if not obstacles:
                free.add(coach.id)
        if not free:
            return Block(Rule.COACHES, frozenset(met))
        if len(free) < demand.observers or (demand.qualified and not free & set(demand.qualified)):
            return Block(Rule.OBSERVERS, frozenset(met))
        return None

    def _athlete_block(self, demand: Demand, start: int) -> Block:
        attendance = self.book.attendance
        if attendance.is_nobody_left(demand):
            return Block(Rule.ATTENDANCE)
        kept: dict[Rule, list[tuple[str, tuple[str, ...]]]] = defaultdict(list)
        item = self.problem.item_of(Placement(demand.id, start, "", ()))
        for athlete in attendance.others[demand.id]:
            obstacles = athlete_obstacles(
                attendance.rules[athlete], self.book.local, item, self.diaries[athlete].to(item)
            )
            if obstacles:
                rule = obstacles[0].rule
                met = tuple(other for one in obstacles if one.rule is rule for other in one.others)
                kept[rule].append((athlete, met))
        count = 0
        met_so_far: set[str] = set()
        for rule in _ATHLETE_RULES:
            count += len(kept[rule])
            met_so_far.update(other for _, met in kept[rule] for other in met)
            used_up = any(self._has_used_up(athlete, start) for athlete, _ in kept[rule])
            if kept[rule] and (count > attendance.most_excused[demand.id] or used_up):
                return Block(rule, frozenset(met_so_far))
        return Block(Rule.COST)

    def _has_used_up(self, athlete: str, start: int) -> bool:
        most = self.book.attendance.rules[athlete].excusals_per_week
        return most is not None and self.excusals[athlete, self.book.local.week(start)] >= most


def _how_far(block: Block | None) -> int:
    return 2 if block is None else (block.rule is Rule.OBSERVERS)


def warnings(book: RuleBook) -> list[dict[str, Any]]:
    """Each pair of fixed items that one athlete cannot attend both, or one coach not lead both."""
    rows = _clashing_athletes(book), _clashing_coaches(book)
    texts = (
        "{0} on {day} and {1} on {later} are too near in time for {2} to attend both.",
        "{2} cannot lead both {0} on {day} and {1} on {later}.",
    )
    found = []
    for rule, pairs, text in zip((Rule.SEPARATION, Rule.COACHES), rows, texts, strict=True):
        for pair, who in pairs.items():
            names = who[0] if len(who) == 1 else f"{len(who)} people"
            day, later = (day_name(book.local.date(book.problem.fixed[one].item.start)) for one in pair)
            told = text.format(*pair, names, day=day, later=later)
            found.append({"items": list(pair), "rule": rule.value, "text": told})
    return found


def _clashing_athletes(book: RuleBook) -> dict[tuple[str, str], list[str]]:
    found: dict[tuple[str, str], list[str]] = defaultdict(list)
    for athlete, items in book.attendance.fixed.items():
        separation = book.attendance.rules[athlete].separation
        longest = max(separation.values(), default=0)
        for one, other in _near(items, longest):
            if is_too_near(separation, one, other):
                found[one.id, other.id].append(athlete)
    return found


def _clashing_coaches(book: RuleBook) -> dict[tuple[str, str], list[str]]:
    found: dict[tuple[str, str], list[str]] = defaultdict(list)
    travel_min = book.problem.policy.travel_min
    fixed = sorted(book.fixed, key=lambda item: (item.start, item.id))
    for coach in book.problem.coaches.values():
        led = [item for item in fixed if coach.id in item.coaches]
        for one, other in _near(led, travel_min):
            obstacles = coach_obstacles(coach, travel_min, book.local, one, [other])
            if any(obstacle.code is not Code.COACH_DAY_FULL for obstacle in obstacles):
                found[one.id, other.id].append(coach.id)
    return found


def _near(items: Sequence[Item], most_min: int) -> Iterable[tuple[Item, Item]]:
    """Pairs of items, earliest first, with no more than so many minutes between them."""
    return ((one, other) for one, other in combinations(items, 2) if other.start < one.end + most_min)
