"""The part of the model that speaks of athletes: who could attend what.

What keeps a whole group from two sessions is said once for the group; only athletes whom something of their own
could keep away get variables.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

from sessions.core.planner.covers import bits, clique_cover
from sessions.core.planner.limits import most_used_dates
from sessions.core.planner.local_time import week_of
from sessions.core.planner.model import PlanModel
from sessions.core.planner.pairs import Clique, Reach, clash_reach, cliques, related_ranges
from sessions.core.planner.problem import Demand, Item

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

    Literal = cp_model.IntVar


@dataclass(frozen=True)
class SoftPair:
    """Two demands that these athletes cannot both attend when they lie within reach; the rest of a group can."""

    first: Demand
    second: Demand
    reach: Reach
    athletes: tuple[str, ...]


class GroupModel:
    """Adds attendance to a `PlanModel`. `attends[d][athlete][date]` for athletes in doubt."""

    def __init__(self, plan: PlanModel) -> None:
        self.plan = plan
        self.model = plan.model
        self.problem = plan.problem
        self.options = plan.options
        self.attendance = plan.options.book.attendance
        self.local = plan.local
        self.attends: dict[str, dict[str, dict[int, Literal]]] = defaultdict(dict)
        self.missed: dict[str, dict[str, dict[int, Literal]]] = defaultdict(dict)
        self.demands_of = self._demands_of()
        self.in_doubt: dict[str, set[str]] = {demand.id: set() for demand in plan.demands}
        self.soft: list[SoftPair] = []
        self.hard: list[tuple[Demand, Demand, Reach]] = []
        for first, second in combinations(plan.demands, 2):
            self._sort_pair(first, second)
        self._add_hard_pairs()
        for athlete in self.problem.athletes:
            self._find_doubts(athlete)
        for demand in plan.demands:
            for athlete in sorted(self.in_doubt[demand.id]):
                self._add_attendance(demand, athlete)
            self._add_share(demand)
        for pair in self.soft:
            self._add_soft_pair(pair)
        for athlete in self.problem.athletes:
            self._add_limits(athlete)

    def _demands_of(self) -> dict[str, list[Demand]]:
        """The demands that each athlete counts for and that have a start at all."""
        found: dict[str, list[Demand]] = defaultdict(list)
        for demand in self.plan.demands:
            if self.options.of[demand.id]:
                for athlete in self.attendance.others[demand.id]:
                    found[athlete].append(demand)
        return found

    # Two sessions that one athlete cannot both attend

    def _sort_pair(self, first: Demand, second: Demand) -> None:
        """Splits the clashes of a pair: too many athletes to excuse (forbidden), or few (each decided apart)."""
        if not self.options.of[first.id] or not self.options.of[second.id]:
            return
        others = set(self.attendance.others[second.id])
        common = [athlete for athlete in self.attendance.others[first.id] if athlete in others]
        reaches: dict[Reach, list[str]] = defaultdict(list)
        for athlete in common:
            reaches[self._reach(athlete, first, second)].append(athlete)
        most = self.attendance.most_excused[first.id] + self.attendance.most_excused[second.id]
        for reach, athletes in reaches.items():
            held = sum(len(rows) for wider, rows in reaches.items() if wider.covers(reach))
            if held > most:
                self.hard.append((first, second, reach))
            elif self.cliques_of(first, second, reach):
                self.soft.append(SoftPair(first, second, reach, tuple(athletes)))
                for demand in (first, second):
                    self.in_doubt[demand.id].update(athletes)

    def _add_hard_pairs(self) -> None:
        """Starts that exclude each other, said as few large cliques instead of many pairs."""
        for demands in self._linked():
            nodes = sorted(
                (option.start, number, i)
                for number, demand in enumerate(demands)
                for i, option in enumerate(self.options.of[demand.id])
            )
            places: dict[str, list[int]] = {demand.id: [] for demand in demands}
            for place, (_, number, _) in enumerate(nodes):
                places[demands[number].id].append(place)
            conflicts = self._conflicts(places, len(nodes))
            whole = {name: sum(1 << place for place in rows) for name, rows in places.items()}
            own = [whole[demands[number].id] ^ (1 << place) for place, (_, number, _) in enumerate(nodes)]
            for clique in clique_cover(conflicts, own):
                taken: dict[str, list[int]] = defaultdict(list)
                for place in bits(clique):
                    _, number, i = nodes[place]
                    taken[demands[number].id].append(i)
                self.model.add_at_most_one(
                    [literal for name, rows in taken.items() for literal in self._taken_set(name, rows)]
                )

    def _linked(self) -> list[list[Demand]]:
        """Demands that exclude each other, directly or through others, together."""
        part = {demand.id: [demand] for demand in self.plan.demands}
        for first, second, _ in self.hard:
            one, other = part[first.id], part[second.id]
            if one is not other:
                one += other
                part.update((demand.id, one) for demand in other)
        return list({id(demands): demands for demands in part.values() if len(demands) > 1}.values())

    def _conflicts(self, places: dict[str, list[int]], count: int) -> list[int]:
        conflicts = [0] * count
        starts = self.plan.starts
        for first, second, reach in self.hard:
            if first.id in places:
                mine, theirs = places[first.id], places[second.id]
                ranges = related_ranges(starts[first.id], starts[second.id], reach, self.local.date)
                for place, (begin, end) in zip(mine, ranges, strict=True):
                    for other in theirs[begin:end]:
                        conflicts[place] |= 1 << other
                        conflicts[other] |= 1 << place
        return conflicts

    def _taken_set(self, demand: str, rows: list[int]) -> list[Literal]:
        """Literals whose sum says that the demand takes one of these options: whole dates by their own literal."""
        by_date: dict[int, list[int]] = defaultdict(list)
        for i in rows:
            by_date[self.options.of[demand][i].date].append(i)
        found: list[Literal] = []
        for date, positions in by_date.items():
            is_whole = len(positions) == self.plan.size[demand][date]
            found += [self.plan.on[demand][date]] if is_whole else [self.plan.at[demand][i] for i in positions]
        return found

    def _reach(self, athlete: str, first: Demand, second: Demand) -> Reach:
        rules = self.attendance.rules[athlete]
        return clash_reach(rules.separation, first, second, rules.sessions_per_day == 1)

    def cliques_of(self, first: Demand, second: Demand, reach: Reach) -> list[Clique]:
        starts = self.plan.starts
        return cliques(related_ranges(starts[first.id], starts[second.id], reach, self.local.date))

    def add_rows(self, first: Demand, second: Demand, found: Iterable[Clique], unless: Literal | None = None) -> None:
        """At most one of each clique; or the literal holds."""
        for clique in found:
            one = self._taken(first, clique.first_from, clique.first_to)
            other = self._taken(second, clique.second_from, clique.second_to)
            if unless is None:
                self.model.add_at_most_one([*one, *other])
            else:
                self.model.add(sum(one) + sum(other) <= 1 + unless)

    def _taken(self, demand: Demand, begin: int, end: int) -> list[Literal]:
        return self._taken_set(demand.id, list(range(begin, end)))

    # Athletes whom something of their own could keep away

    def _find_doubts(self, athlete: str) -> None:
        rules = self.attendance.rules[athlete]
        demands = self.demands_of[athlete]
        for week, rows in self._by_week(demands).items():
            fixed = self._fixed_in(athlete, week)
            minutes = sum(demand.duration_min for demand in rows) + sum(item.load_min for item in fixed)
            cap = rules.weekly_minutes_cap
            is_tight = cap is not None and minutes > cap
            if is_tight or self._may_use_too_many_dates(athlete, week, rows, fixed):
                self._doubt(athlete, rows)
        most = rules.sessions_per_day
        if most is not None and most > 1:
            for date, rows in self._by_date(demands).items():
                if len(rows) + self._fixed_on(athlete, date) > most:
                    self._doubt(athlete, rows)

    def _doubt(self, athlete: str, demands: Iterable[Demand]) -> None:
        for demand in demands:
            self.in_doubt[demand.id].add(athlete)

    def _by_week(self, demands: Iterable[Demand]) -> dict[int, list[Demand]]:
        found: dict[int, list[Demand]] = defaultdict(list)
        for demand in demands:
            for week in sorted({option.week for option in self.options.of[demand.id]}):
                found[week].append(demand)
        return found

    def _by_date(self, demands: Iterable[Demand]) -> dict[int, list[Demand]]:
        found: dict[int, list[Demand]] = defaultdict(list)
        for demand in demands:
            for date in self.plan.on[demand.id]:
                found[date].append(demand)
        return found

    def _fixed_in(self, athlete: str, week: int) -> list[Item]:
        return [item for item in self.attendance.fixed[athlete] if self.local.week(item.start) == week]

    def _fixed_on(self, athlete: str, date: int) -> int:
        return sum(self.local.date(item.start) == date for item in self.attendance.fixed[athlete])

    def _may_use_too_many_dates(self, athlete: str, week: int, demands: list[Demand], fixed: list[Item]) -> bool:
        used = {self.local.date(item.start) for item in fixed}
        rest_days = self.attendance.rules[athlete].rest_days_per_week
        new = {date for demand in demands for date in self.plan.on[demand.id] if week_of(date) == week} - used
        return min(len(new), len(demands)) + len(used) > most_used_dates(rest_days, len(used))

    def _add_attendance(self, demand: Demand, athlete: str) -> None:
        """Rule 5: on each date attends or does not, never where the athlete is unable to."""
        at = self.plan.at[demand.id]
        options = self.options.of[demand.id]
        days: dict[int, Literal] = {}
        missed: dict[int, Literal] = {}
        for date, on in self.plan.on[demand.id].items():
            rows = [i for i, option in enumerate(options) if option.date == date]
            able = [at[i] for i in rows if athlete not in options[i].unable]
            if not able:
                missed[date] = on
                continue
            days[date], missed[date] = self.plan.literal(), self.plan.literal()
            self.model.add_exactly_one([days[date], missed[date], ~on])
            if len(able) < len(rows):
                self.model.add_at_most_one([days[date], *(at[i] for i in rows if athlete in options[i].unable)])
        self.attends[demand.id][athlete] = days
        self.missed[demand.id][athlete] = missed
        self.plan.costs[demand.id] += [self.problem.weights.excused * literal for literal in missed.values()]

    def _add_share(self, demand: Demand) -> None:
        """Rule 5: no more are excused than the share allows."""
        doubt = self.in_doubt[demand.id]
        most = self.attendance.most_excused[demand.id]
        options = self.options.of[demand.id]
        surely = [len(option.unable - doubt) for option in options]
        if doubt and max(surely, default=0) + len(doubt) > most:
            known = sum(count * at for count, at in zip(surely, self.plan.at[demand.id], strict=True))
            missed = [literal for days in self.missed[demand.id].values() for literal in days.values()]
            self.model.add(known + sum(missed) <= most)

    def _add_soft_pair(self, pair: SoftPair) -> None:
        """Rule 5 and, with one session a day, rule 8: who cannot attend both is excused from one."""
        first, second = pair.first, pair.second
        starts1, starts2 = self.plan.starts[first.id], self.plan.starts[second.id]
        ranges = related_ranges(starts1, starts2, pair.reach, self.local.date)
        days1, days2 = self._positions(first), self._positions(second)
        for date1, (begin1, end1) in days1.items():
            whole = []
            for date2, (begin2, end2) in days2.items():
                inner = [(max(a, begin2), min(b, end2)) for a, b in ranges[begin1:end1]]
                inner = [(a, max(a, b)) for a, b in inner]
                if all(row == (begin2, end2) for row in inner):
                    whole.append(date2)
                elif any(a < b for a, b in inner):
                    self._add_partial(pair, (date1, begin1), (date2, begin2), inner)
            for athlete in pair.athletes:
                mine = self.attends[second.id][athlete]
                rows = [mine[date] for date in whole if date in mine]
                one = self.attends[first.id][athlete].get(date1)
                if one is not None and rows:
                    self.model.add_at_most_one([one, *rows])

    def _positions(self, demand: Demand) -> dict[int, tuple[int, int]]:
        found: dict[int, tuple[int, int]] = {}
        for i, option in enumerate(self.options.of[demand.id]):
            found[option.date] = (found.get(option.date, (i, i))[0], i + 1)
        return found

    def _add_partial(
        self, pair: SoftPair, day1: tuple[int, int], day2: tuple[int, int], inner: list[tuple[int, int]]
    ) -> None:
        """Two dates on which only some of the starts clash."""
        clash = self.plan.literal()
        (date1, begin1), (date2, _) = day1, day2
        for clique in cliques(inner):
            one = self.plan.at[pair.first.id][begin1 + clique.first_from : begin1 + clique.first_to]
            other = self.plan.at[pair.second.id][clique.second_from : clique.second_to]
            self.model.add(sum(one) + sum(other) <= 1 + clash)
        for athlete in pair.athletes:
            mine = self.attends[pair.first.id][athlete].get(date1)
            also = self.attends[pair.second.id][athlete].get(date2)
            if mine is not None and also is not None:
                self.model.add_bool_or([~mine, ~also, ~clash])

    # Limits of one athlete by day and week

    def _add_limits(self, athlete: str) -> None:
        demands = [demand for demand in self.demands_of[athlete] if athlete in self.in_doubt[demand.id]]
        for week, rows in self._by_week(demands).items():
            self._add_week(athlete, week, rows)
        most = self.attendance.rules[athlete].sessions_per_day
        for date, rows in self._by_date(demands).items():
            mine = [self.attends[demand.id][athlete].get(date) for demand in rows]
            literals = [literal for literal in mine if literal is not None]
            if most is not None and len(literals) + (fixed := self._fixed_on(athlete, date)) > most:
                self.model.add(sum(literals) <= max(0, most - fixed))
        self._add_excusals(athlete)

    def _add_week(self, athlete: str, week: int, demands: list[Demand]) -> None:
        """Rules 6 and 7."""
        rules = self.attendance.rules[athlete]
        fixed = self._fixed_in(athlete, week)
        mine = [
            (demand, date, literal)
            for demand in demands
            for date, literal in self.attends[demand.id][athlete].items()
            if week_of(date) == week
        ]
        if rules.weekly_minutes_cap is not None:
            room = max(0, rules.weekly_minutes_cap - sum(item.load_min for item in fixed))
            self._add_minutes(mine, room)
        used = {self.local.date(item.start) for item in fixed}
        free: dict[int, list[Literal]] = defaultdict(list)
        for _, date, literal in mine:
            if date not in used:
                free[date].append(literal)
        room = most_used_dates(rules.rest_days_per_week, len(used)) - len(used)
        if min(len(free), len(demands)) > room:
            self.model.add(sum(self._either(literals) for literals in free.values()) <= room)

    def _add_minutes(self, mine: list[tuple[Demand, int, Literal]], room: int) -> None:
        lengths = {demand.id: demand.duration_min for demand, _, _ in mine}
        if sum(lengths.values()) <= room:
            return
        self.model.add(sum(demand.duration_min * literal for demand, _, literal in mine) <= room)
        count = 0
        for length in sorted(lengths.values()):
            room -= length
            count += room >= 0
        self.model.add(sum(literal for _, _, literal in mine) <= count)

    def _either(self, literals: list[Literal]) -> Literal:
        if len(literals) == 1:
            return literals[0]
        used = self.plan.literal()
        for literal in literals:
            self.model.add_implication(literal, used)
        return used

    def _add_excusals(self, athlete: str) -> None:
        """Rule 5: excusals of one ISO week."""
        most = self.attendance.rules[athlete].excusals_per_week
        if most is None:
            return
        for week, demands in self._by_week(self.demands_of[athlete]).items():
            if len(demands) > most:
                self.model.add(sum(self._excused_in(demand, athlete, week) for demand in demands) <= most)

    def _excused_in(self, demand: Demand, athlete: str, week: int) -> Any:
        if athlete in self.in_doubt[demand.id]:
            missed = self.missed[demand.id][athlete]
            return sum(literal for date, literal in missed.items() if week_of(date) == week)
        pairs = zip(self.options.of[demand.id], self.plan.at[demand.id], strict=True)
        return sum(at for option, at in pairs if option.week == week and athlete in option.unable)
