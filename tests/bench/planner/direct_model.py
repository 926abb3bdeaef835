"""A direct model of the planning contract for comparison: one constraint for each rule and athlete, nothing clever."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any

from ortools.sat.python import cp_model

from sessions.core.planner.attendance import Attendance
from sessions.core.planner.local_time import week_of
from sessions.core.planner.problem import STRENUOUS, Demand, Item, Kind, Problem

Literal = Any


@dataclass
class DirectModel:
    """Start, venue, coaches and excused of each demand as plain variables; every rule pair by pair."""

    problem: Problem
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)

    def __post_init__(self) -> None:
        self.roster = Attendance(self.problem)
        self.at: dict[str, dict[tuple[int, str], Literal]] = {}
        self.leads: dict[tuple[str, str], Literal] = {}
        self.excused: dict[tuple[str, str], Literal] = {}
        self.costs: list[Any] = []
        for demand in self.problem.demands.values():
            self._place(demand)
        self._coaches()
        self._lanes()
        for athlete in self.problem.athletes:
            self._athlete(athlete)
        self._costs()
        self.model.minimize(sum(self.costs))

    def solve(self, seconds: float, workers: int = 2) -> tuple[str, int | None, int]:
        """Status, objective (None where no plan was found) and bound."""
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds, solver.parameters.num_workers = seconds, workers
        status = solver.solve(self.model)
        found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        objective = round(solver.objective_value) if found else None
        return solver.status_name(status), objective, round(solver.best_objective_bound)

    def starts(self, demand: Demand) -> Iterator[tuple[int, Literal]]:
        """Each start with whether the demand lies there, whatever the venue."""
        venues: dict[int, list[Literal]] = defaultdict(list)
        for (start, _venue), literal in self.at[demand.id].items():
            venues[start].append(literal)
        yield from ((start, sum(literals)) for start, literals in venues.items())

    def placed(self, demand: Demand) -> Any:
        return sum(self.at[demand.id].values())

    def _place(self, demand: Demand) -> None:
        """Rules 1 and 2, and the share of rule 5."""
        model, length = self.model, demand.duration_min
        self.at[demand.id] = {
            (start, venue): model.new_bool_var("")
            for start in self.problem.starts[demand.id]
            for venue in demand.venues
            if any(span.holds(start, start + length) for span in self.problem.venues[venue].open)
            and not self.roster.is_nobody_left(demand)
        }
        model.add(self.placed(demand) <= 1)
        for coach in demand.coaches:
            lead = self.leads[demand.id, coach] = model.new_bool_var("")
            for start, here in self.starts(demand):
                if not any(span.holds(start, start + length) for span in self.problem.coaches[coach].available):
                    model.add(lead + here <= 1)
        model.add(sum(self.leads[demand.id, c] for c in demand.coaches) == demand.observers * self.placed(demand))
        if demand.qualified:
            model.add(sum(self.leads[demand.id, c] for c in demand.qualified) >= self.placed(demand))
        for athlete in self.roster.others[demand.id]:
            self.excused[demand.id, athlete] = model.new_bool_var("")
            model.add(self.excused[demand.id, athlete] <= self.placed(demand))
        excused = sum(self.excused[demand.id, a] for a in self.roster.others[demand.id])
        model.add(excused <= self.roster.most_excused[demand.id])

    def _coaches(self) -> None:
        """Rule 3: one session at a time, travel between venues, sessions that start on one date."""
        for name, coach in self.problem.coaches.items():
            mine = [d for d in self.problem.demands.values() if name in d.coaches]
            fixed = [f.item for f in self.problem.fixed.values() if name in f.item.coaches]
            for first, second in combinations(mine, 2):
                both = self.leads[first.id, name] + self.leads[second.id, name]
                for (start, venue), here in self.at[first.id].items():
                    for (other, there), beside in self.at[second.id].items():
                        gap = self._travel(venue, there)
                        if start < other + second.duration_min + gap and other < start + first.duration_min + gap:
                            self.model.add(here + beside + both <= 3)
            for demand in mine:
                for (start, venue), here in self.at[demand.id].items():
                    for item in fixed:
                        gap = self._travel(venue, item.venue)
                        if start < item.end + gap and item.start < start + demand.duration_min + gap:
                            self.model.add(here + self.leads[demand.id, name] <= 1)
            for date in {self._date(start) for d in mine for start, _ in self.starts(d)}:
                led = [self._both(self.leads[d.id, name], self._on(d, date)) for d in mine]
                fixed_led = sum(self._date(item.start) == date for item in fixed)
                self.model.add(sum(led) <= max(0, coach.max_sessions_per_day - fixed_led))

    def _lanes(self) -> None:
        """Rule 4: a cumulative limit for each venue."""
        for name, venue in self.problem.venues.items():
            spans, lanes = [], []
            for demand in self.problem.demands.values():
                for (start, where), here in self.at[demand.id].items():
                    if where == name:
                        length = demand.duration_min
                        spans.append(self.model.new_optional_fixed_size_interval_var(start, length, here, ""))
                        lanes.append(demand.lanes)
            for fixed in self.problem.fixed.values():
                if fixed.item.venue == name:
                    item = fixed.item
                    spans.append(self.model.new_fixed_size_interval_var(item.start, item.end - item.start, ""))
                    lanes.append(min(fixed.item.lanes, venue.lanes))
            self.model.add_cumulative(spans, lanes, venue.lanes)

    def _athlete(self, name: str) -> None:
        """Rules 5 to 8 for one athlete, item by item."""
        rules = self.roster.rules[name]
        mine = [d for d in self.problem.demands.values() if name in self.roster.others[d.id]]
        fixed = self.roster.fixed[name]
        for demand in mine:
            away = self.excused[demand.id, name]
            for start, here in self.starts(demand):
                item = self._item(demand, start)
                if rules.is_unavailable(item.start, item.end) or any(self._clash(rules, item, f) for f in fixed):
                    self.model.add(here <= away)
        for first, second in combinations(mine, 2):
            away = self.excused[first.id, name] + self.excused[second.id, name]
            for start, here in self.starts(first):
                for other, beside in self.starts(second):
                    if self._clash(rules, self._item(first, start), self._item(second, other)):
                        self.model.add(here + beside <= 1 + away)
        self._limits(name, mine, fixed)

    def _limits(self, name: str, mine: list[Demand], fixed: tuple[Item, ...]) -> None:
        rules = self.roster.rules[name]
        dates = {self._date(start) for d in mine for start, _ in self.starts(d)}
        comes = {(d.id, date): self._comes(d, date, name) for d in mine for date in dates}
        for date in dates:
            if rules.sessions_per_day is not None:
                there = sum(self._date(item.start) == date for item in fixed)
                total = sum(comes[d.id, date] for d in mine)
                self.model.add(total <= max(0, rules.sessions_per_day - there))
        for week in {week_of(date) for date in dates}:
            taken = {self._date(item.start) for item in fixed if week_of(self._date(item.start)) == week}
            here = [date for date in dates if week_of(date) == week]
            used = {date: self.model.new_bool_var("") for date in here if date not in taken}
            for date, literal in used.items():
                self.model.add_max_equality(literal, [0, *(comes[d.id, date] for d in mine)])
            self.model.add(sum(used.values()) <= max(0, 7 - rules.rest_days_per_week - len(taken)))
            if rules.weekly_minutes_cap is not None:
                spent = sum(item.load_min for item in fixed if week_of(self._date(item.start)) == week)
                minutes = sum(d.duration_min * comes[d.id, date] for d in mine for date in here)
                self.model.add(minutes <= max(0, rules.weekly_minutes_cap - spent))
            if rules.excusals_per_week is not None:
                missed = [self._both(self.excused[d.id, name], self._on(d, date)) for d in mine for date in here]
                self.model.add(sum(missed) <= rules.excusals_per_week)

    def _costs(self) -> None:
        weights = self.problem.weights
        for demand in self.problem.demands.values():
            self.costs.append(weights.unplaced * demand.priority * (1 - self.placed(demand)))
            self.costs += [weights.excused * self.excused[demand.id, a] for a in self.roster.others[demand.id]]
            for start, here in self.starts(demand):
                if demand.preferred and not any(span.start <= start < span.end for span in demand.preferred):
                    self.costs.append(weights.unpreferred * here)
            self._change_costs(demand)
            self._fixed_costs(demand)
        for first, second in combinations(self.problem.demands.values(), 2):
            if first.group == second.group:
                self._pair_costs(first, second)
        self._peak_costs()

    def _change_costs(self, demand: Demand) -> None:
        current = self.problem.current.get(demand.id)
        if current is None:
            return
        for (start, venue), here in self.at[demand.id].items():
            moved = (start, venue) != (current.start, current.venue)
            other_day = self._date(start) != self._date(current.start)
            self.costs.append(self.problem.weights.moved * (moved + other_day) * here)
        new = (self.leads[demand.id, c] for c in demand.coaches if c not in current.coaches)
        self.costs.append(self.problem.weights.coach_changed * sum(new))

    def _fixed_costs(self, demand: Demand) -> None:
        for start, here in self.starts(demand):
            item = self._item(demand, start)
            beside = [f.item for f in self.problem.fixed.values() if demand.group in f.item.groups]
            cost = sum(self._soft(demand.group, item, other) for other in beside)
            self.costs.append(cost * here)

    def _pair_costs(self, first: Demand, second: Demand) -> None:
        for start, here in self.starts(first):
            for other, beside in self.starts(second):
                cost = self._soft(first.group, self._item(first, start), self._item(second, other))
                if cost:
                    self.costs.append(cost * self._both(here, beside))

    def _soft(self, group: str, first: Item, second: Item) -> int:
        """What two items of a group cost each other: tired technique, technique too close to technique."""
        policy, weights = self.problem.groups[group].policy, self.problem.weights
        early, late = sorted((first, second), key=lambda item: (item.start, item.end))
        gap, cost = late.start - early.end, 0
        if early.kinds & STRENUOUS and Kind.TECHNIQUE in late.kinds and 0 <= gap < policy.fresh_after_min:
            cost += weights.tired
        if Kind.TECHNIQUE in early.kinds and Kind.TECHNIQUE in late.kinds and gap < policy.ideal_between_technique_min:
            cost += weights.close_pair
        return cost

    def _peak_costs(self) -> None:
        weeks = {week_of(self._date(s)) for d in self.problem.demands.values() for s, _ in self.starts(d)}
        for week in weeks:
            peak = self.model.new_int_var(0, len(self.problem.demands), "")
            for coach in self.problem.coaches:
                led = [
                    self._both(self.leads[d.id, coach], self._in_week(d, week))
                    for d in self.problem.demands.values()
                    if coach in d.coaches
                ]
                self.model.add(sum(led) <= peak)
            self.costs.append(self.problem.weights.coach_peak * peak)

    def _both(self, first: Any, second: Any) -> Literal:
        """At least 1 where both are; each is 0 or 1, and what uses it wants it small."""
        literal = self.model.new_bool_var("")
        self.model.add(literal >= first + second - 1)
        return literal

    def _comes(self, demand: Demand, date: int, athlete: str) -> Literal:
        literal = self.model.new_bool_var("")
        self.model.add(literal >= self._on(demand, date) - self.excused[demand.id, athlete])
        return literal

    def _on(self, demand: Demand, date: int) -> Any:
        return sum(here for start, here in self.starts(demand) if self._date(start) == date)

    def _in_week(self, demand: Demand, week: int) -> Any:
        return sum(here for start, here in self.starts(demand) if week_of(self._date(start)) == week)

    def _date(self, instant: int) -> int:
        return self.problem.local.date(instant)

    def _travel(self, first: str | None, second: str | None) -> int:
        return self.problem.policy.travel_min if first and second and first != second else 0

    def _clash(self, rules: Any, first: Item, second: Item) -> bool:
        early, late = sorted((first, second), key=lambda item: (item.start, item.end))
        if late.start < early.end:
            return True
        needed = max((rules.separation.get((a, b), 0) for a in early.kinds for b in late.kinds), default=0)
        return late.start - early.end < needed

    def _item(self, demand: Demand, start: int) -> Item:
        end = start + demand.duration_min
        return Item(demand.id, demand.kinds, start, end, (demand.group,), (), None, demand.lanes, 0, False)
