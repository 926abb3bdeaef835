"""The single changes that could give a demand a place, kind by kind, as ladders from the gentlest to the strongest.

Of each ladder the strongest step is asked first: where it gives no place, no gentler step does.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterable, Iterator
from fractions import Fraction

from sessions.core.planner.changes import Change
from sessions.core.planner.problem import Demand, Fixed, Kind, Policy, Problem

Ladder = Iterable[Change]
Looker = Callable[[Demand, Change], list[int]]
_HOUR = 60
# How far a fixed item is moved when it is tried elsewhere, nearest first.
_SHIFTS_MIN = tuple(sign * hours * _HOUR for hours in (1, 2, 3, 24, 48, 72, 96, 168) for sign in (1, -1))
_SHARES = (Fraction(9, 10), Fraction(3, 4), Fraction(2, 3), Fraction(1, 2))


def ladders(
    problem: Problem, demand: Demand, widely: bool, unmovable: Container[str] = ()
) -> Iterator[Iterator[Ladder]]:
    """The ladders, one iterator for each kind, in the order of intrusion; `widely` also those of the other demands,
    coaches, venues and groups, for a session that makes room. Fixed items in `unmovable` are neither moved nor
    dropped, as meets are not."""
    demands = [demand, *(one for one in problem.demands.values() if widely and one is not demand)]
    coaches = [*demand.coaches, *(name for name in problem.coaches if widely and name not in demand.coaches)]
    venues = [*demand.venues, *(name for name in problem.venues if widely and name not in demand.venues)]
    items = (fixed for fixed in problem.fixed.values() if fixed.item.id not in unmovable)
    movable = [fixed for fixed in items if Kind.MEET not in fixed.item.kinds]
    span = horizon(problem)
    yield ([{"add_window": {"demand": one.id, **own_weeks(problem, one)}}] for one in demands)
    yield ([{"add_available": {"coach": name, **span}}] for name in coaches)
    yield ([{"add_open": {"venue": name, **span}}] for name in venues)
    yield ([change] for fixed in movable for change in _moved(problem, fixed))
    yield (ladder for one in demands for ladder in _eased_demand(one, problem.grid_min))
    yield _eased_policies(problem, demand, widely)
    yield ([{"drop_fixed": fixed.item.id}] for fixed in movable)
    if own_weeks(problem, demand) != span:
        yield iter([[{"add_window": {"demand": demand.id, **span}}]])
    if widely:
        yield _single_windows(problem, demand)


def horizon(problem: Problem) -> dict[str, str]:
    """The whole of it as a span of the contract."""
    local, first = problem.local, problem.first_day
    last = first.fromordinal(first.toordinal() + problem.days)
    return {"start": local.text(local.midnight(first)), "end": local.text(local.midnight(last))}


def own_weeks(problem: Problem, demand: Demand) -> dict[str, str]:
    """The ISO weeks in which the demand's windows lie, as far as they belong to the horizon."""
    local, first = problem.local, problem.first_day.toordinal()
    mondays = [7 * local.week(window.start) + 1 for window in demand.windows]
    after = [7 * local.week(window.end - 1) + 8 for window in demand.windows]
    begin, end = max(first, min(mondays)), min(first + problem.days, max(after))
    day = problem.first_day.fromordinal
    return {"start": local.text(local.midnight(day(begin))), "end": local.text(local.midnight(day(end)))}


def _single_windows(problem: Problem, demand: Demand) -> Iterator[Ladder]:
    """Each further start alone, where somebody could be away for the demand: a longer window leaves fewer away."""
    athletes = (problem.athletes[name] for name in problem.groups[demand.group].athletes)
    if not any(athlete.unavailable for athlete in athletes):
        return
    local, first = problem.local, problem.first_day
    end = local.midnight(first.fromordinal(first.toordinal() + problem.days))
    for start in local.grid_starts([(local.midnight(first), end - demand.duration_min)], problem.grid_min):
        if start not in problem.starts[demand.id]:
            span = {"start": local.text(start), "end": local.text(start + demand.duration_min)}
            yield [{"add_window": {"demand": demand.id, **span}}]


def _moved(problem: Problem, fixed: Fixed) -> Iterator[Change]:
    """The item at other starts, as long as before, nearest first."""
    for shift in _SHIFTS_MIN:
        yield {"move_fixed": {"id": fixed.item.id, "start": problem.local.text(fixed.item.start + shift)}}


def _eased_demand(demand: Demand, grid_min: int) -> Iterator[Ladder]:
    """Shorter, with fewer observers or on fewer lanes, never below half."""
    least = _half(demand.duration_min)
    shorter = range((demand.duration_min - 1) // grid_min * grid_min, least, -grid_min)
    for field, whole, values in (
        ("duration_min", demand.duration_min, [*shorter, least]),
        ("observers", demand.observers, range(demand.observers - 1, _half(demand.observers) - 1, -1)),
        ("lanes", demand.lanes, range(demand.lanes - 1, _half(demand.lanes) - 1, -1)),
    ):
        steps: list[Change] = [
            {"set_demand": {"id": demand.id, "field": field, "to": value}} for value in values if value < whole
        ]
        if steps:
            yield steps


def _half(number: int) -> int:
    return -(-number // 2)


def _eased_policies(problem: Problem, demand: Demand, widely: bool) -> Iterator[Ladder]:
    """The demand's group first, then the problem's policy, then the other groups."""
    others = [name for name in problem.groups if widely and name != demand.group]
    kinds = frozenset(Kind) if widely else demand.kinds
    most = len(problem.demands) + len(problem.fixed)
    owners = [(demand.group, problem.groups[demand.group].policy), (None, problem.policy)]
    owners += [(name, problem.groups[name].policy) for name in others]
    for group, policy in owners:
        for path, values in _eased(policy, kinds, most):
            yield [_policy_change(group, path, to) for to in values]
    travel_min = problem.policy.travel_min
    if travel_min > 1:
        yield [_policy_change(None, "travel_min", to) for to in _lower(Fraction(travel_min))]


def _eased(policy: Policy, kinds: frozenset[Kind], most: int) -> Iterator[tuple[str, list[float]]]:
    """Each field of a policy that keeps athletes from sessions, with gentler values, none below half."""
    for (earlier, later), gap_min in sorted(policy.separation.items()):
        if gap_min and {earlier, later} & kinds:
            yield f"separation_h.{Kind(earlier)}.{Kind(later)}", _lower(Fraction(gap_min, _HOUR))
    for path, limit in (
        ("sessions_per_day", policy.sessions_per_day),
        ("excusals_per_week", policy.excusals_per_week),
    ):
        if limit is not None:
            yield path, [limit + 1, *([most] if most > limit + 1 else [])]
    fewer = range(policy.rest_days_per_week - 1, _half(policy.rest_days_per_week) - 1, -1)
    if fewer:
        yield "rest_days_per_week", list(fewer)
    if policy.max_excused_share < 1:
        yield "max_excused_share", [share for share in (0.5, 0.75, 1) if share > policy.max_excused_share]


def _lower(number: Fraction) -> list[float]:
    """Whole numbers below the number, then exactly its half."""
    whole = {math.ceil(number * share) for share in _SHARES}
    half = number / 2
    steps: list[float] = sorted((to for to in whole if half < to < number), reverse=True)
    return [*steps, int(half) if half.denominator == 1 else float(half)]


def _policy_change(group: str | None, path: str, to: float) -> Change:
    owner = {} if group is None else {"group": group}
    return {"set_policy": {**owner, "path": path, "to": to}}
