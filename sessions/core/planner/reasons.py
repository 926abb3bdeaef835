"""Why a placed demand stands where it stands, in plain sentences that name day and rule."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from sessions.core.planner.limits import is_coach_available
from sessions.core.planner.local_time import day_name
from sessions.core.planner.problem import Demand, Item, Kind, Placement
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.score import is_unpreferred, moves

# The kind that names a session of several kinds: the most strenuous one.
_NAMING = (Kind.MEET, Kind.HARD, Kind.TECHNIQUE, Kind.MODERATE, Kind.EASY)


def reasons_of(book: RuleBook, placements: Sequence[Placement]) -> dict[str, list[str]]:
    """For each placed demand one or more sentences."""
    items = (*book.fixed, *(book.problem.item_of(placement) for placement in placements))
    by_group: dict[str, list[Item]] = defaultdict(list)
    for item in items:
        for group in item.groups:
            by_group[group].append(item)
    demands = book.problem.demands
    return {one.demand: _sentences(book, one, by_group[demands[one.demand].group]) for one in placements}


def _sentences(book: RuleBook, placement: Placement, items: Sequence[Item]) -> list[str]:
    demand = book.problem.demands[placement.demand]
    item = book.problem.item_of(placement)
    beside = [other for other in items if other.id != item.id]
    day = day_name(book.local.date(item.start))
    team = " and ".join(placement.coaches)
    verb = "lead" if len(placement.coaches) > 1 else "leads"
    found = [
        f"{day}: {_gap_before(book, item, beside)}.",
        f"{placement.venue} is {_room(demand.lanes)}; {team} {verb}{_other_coaches(book, demand, placement)}.",
        _attendance(book, demand, placement),
    ]
    if demand.preferred and not is_unpreferred(book.problem, demand.id, item.start):
        found.append("It lies at one of its usual times.")
    if demand.preferred and is_unpreferred(book.problem, demand.id, item.start):
        found.append("It lies at none of its usual times: at one of them the week would lose more.")
    if demand.id in book.problem.current:
        stays = not moves(book.problem, demand.id, item.start, placement.venue)
        found.append("It stays where it is now." if stays else "It moves from where it is now.")
    return found


def _gap_before(book: RuleBook, item: Item, beside: list[Item]) -> str:
    """How long after the session before that matters most for this kind, else after the last one."""
    before = [other for other in beside if other.end <= item.start]
    strenuous = [other for other in before if other.kinds & {Kind.HARD, Kind.MEET}]
    chosen = strenuous if Kind.TECHNIQUE in item.kinds and strenuous else before
    if not chosen:
        return "the group has nothing before it"
    last = max(chosen, key=lambda other: (other.end, other.id))
    kind = next(kind for kind in _NAMING if kind in last.kinds)
    noun = "meet" if kind is Kind.MEET else f"{kind} session"
    hours = (item.start - last.end) // 60
    return f"{hours} h after {day_name(book.local.date(last.start))}'s {noun}"


def _room(lanes: int) -> str:
    """What the venue has for the session, in words."""
    return {0: "open", 1: "open with a lane free"}.get(lanes, f"open with {lanes} lanes free")


def _other_coaches(book: RuleBook, demand: Demand, placement: Placement) -> str:
    """How many of the session's coaches are available at that time, where there is a choice."""
    if len(demand.coaches) == demand.observers:
        return ""
    end = placement.start + demand.duration_min
    able = sum(is_coach_available(book.problem.coaches[name], placement.start, end) for name in demand.coaches)
    if able < len(demand.coaches):
        return f", {able} of its {len(demand.coaches)} coaches being available"
    return ", both of its coaches being available" if able == 2 else f", all of its {able} coaches being available"


def _attendance(book: RuleBook, demand: Demand, placement: Placement) -> str:
    away = len(book.attendance.away[demand.id])
    excused = sorted(placement.excused)
    said = f"{', '.join(excused)} {'is' if len(excused) == 1 else 'are'} excused" if excused else "Nobody is excused"
    return f"{said}; {away} cannot come at any time at which it may lie." if away else f"{said}."
