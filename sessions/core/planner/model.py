"""The constraint model of one problem: starts, venues, lanes and coaches. Only the solving side imports the solver.

Each method adds one rule; what fixed items rule out is already gone from the options.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import TYPE_CHECKING, Any

from sessions.core.planner.options import Option, Options
from sessions.core.planner.pairs import Reach, related_ranges
from sessions.core.planner.problem import Demand
from sessions.core.planner.score import moves

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

    Literal = cp_model.IntVar
Terms = list[Any]
# start, end, amount, demand, literal
Row = tuple[int, int, int, str, Any]


class PlanModel:
    """Variables: `at[d][i]` demand d takes its option i; `on[d][date]` it lies on that date; `venue[d][i][v]`;
    `leads[d][date][coach]`; `left_out[d]`."""

    def __init__(self, options: Options, demands: Iterable[Demand] | None = None) -> None:
        """With `demands`, only those, and without what they share with others: coaches' time, lanes, coach peak."""
        from ortools.sat.python import cp_model

        self.cp = cp_model
        self.model = cp_model.CpModel()
        self.options = options
        self.problem = options.problem
        self.local = options.local
        self.is_whole = demands is None
        self.demands = list(self.problem.demands.values() if demands is None else demands)
        self.at: dict[str, list[Literal]] = {}
        self.on: dict[str, dict[int, Literal]] = {}
        self.left_out: dict[str, Literal] = {}
        self.venue: dict[str, list[dict[str, Literal]]] = {}
        self.leads: dict[str, dict[int, dict[str, Literal]]] = {}
        self.team: dict[str, list[dict[str, Literal]]] = {}
        self.size: dict[str, dict[int, int]] = {}
        self.starts: dict[str, list[int]] = {}
        self.costs: dict[str, Terms] = defaultdict(list)
        self.peaks: Terms = []
        for demand in self.demands:
            self._add_demand(demand, options.of[demand.id])
        self._order_equal_demands()
        if self.is_whole:
            self._add_lanes()
            self._add_coach_days()
            self._add_coach_overlaps()
            self._add_coach_peak()

    def literal(self) -> Literal:
        return self.model.new_bool_var("")

    def _add_demand(self, demand: Demand, options: Sequence[Option]) -> None:
        """Each demand takes one start or is left out; with the costs that depend on the start alone."""
        self.starts[demand.id] = [option.start for option in options]
        at = self.at[demand.id] = [self.literal() for _ in options]
        left_out = self.left_out[demand.id] = self.literal()
        self.model.add_exactly_one([*at, left_out])
        self.costs[demand.id].append(self.problem.weights.unplaced * demand.priority * left_out)
        days: dict[int, list[int]] = defaultdict(list)
        for index, option in enumerate(options):
            days[option.date].append(index)
        self.size[demand.id] = {date: len(rows) for date, rows in days.items()}
        self.on[demand.id] = {date: self._any_of([at[i] for i in rows]) for date, rows in days.items()}
        self.venue[demand.id] = [self._add_venue(demand, option, at[i]) for i, option in enumerate(options)]
        self.leads[demand.id] = {}
        if self.is_whole or demand.id in self.problem.current:
            self._add_coaches(demand, options, days)

    def _any_of(self, literals: list[Literal]) -> Literal:
        """A literal that equals the sum of literals of which at most one holds."""
        if len(literals) == 1:
            return literals[0]
        whole = self.literal()
        self.model.add(sum(literals) == whole)
        return whole

    def _add_venue(self, demand: Demand, option: Option, at: Literal) -> dict[str, Literal]:
        """Rule 1: one venue; and what the move costs."""
        if len(option.venues) == 1:
            found = {option.venues[0]: at}
        else:
            found = {venue: self.literal() for venue in option.venues}
            self.model.add(sum(found.values()) == at)
        for venue, literal in found.items():
            moved = moves(self.problem, demand.id, option.start, venue)
            if moved:
                self.costs[demand.id].append(self.problem.weights.moved * moved * literal)
        return found

    def _add_coaches(self, demand: Demand, options: Sequence[Option], days: dict[int, list[int]]) -> None:
        """Rules 1 and 2: as many coaches as asked for, of those who can at that time and place, one qualified."""
        rows = self.team[demand.id] = [self._add_team(demand, i, option) for i, option in enumerate(options)]
        leads = self.leads[demand.id] = {}
        for date, positions in days.items():
            able = sorted({coach for i in positions for coach in rows[i]})
            leads[date] = {
                coach: self._any_of([rows[i][coach] for i in positions if coach in rows[i]]) for coach in able
            }
            self.model.add(sum(leads[date].values()) == demand.observers * self.on[demand.id][date])
            for coach, literal in leads[date].items():
                self._add_coach_change(demand, coach, literal)

    def _add_team(self, demand: Demand, index: int, option: Option) -> dict[str, Literal]:
        at = self.at[demand.id][index]
        able = sorted(frozenset().union(*option.coaches))
        if len(able) == demand.observers:
            return dict.fromkeys(able, at)
        team = {coach: self.literal() for coach in able}
        self.model.add(sum(team.values()) == demand.observers * at)
        if demand.qualified:
            self.model.add(sum(team[coach] for coach in demand.qualified if coach in team) >= at)
        for coach, literal in team.items():
            for venue, there in zip(option.venues, option.coaches, strict=True):
                if coach not in there:
                    self.model.add_at_most_one([self.venue[demand.id][index][venue], literal])
        return team

    def _add_coach_change(self, demand: Demand, coach: str, leads: Literal) -> None:
        current = self.problem.current.get(demand.id)
        if current is not None and coach not in current.coaches:
            self.costs[demand.id].append(self.problem.weights.coach_changed * leads)

    def _add_lanes(self) -> None:
        """Rule 4: at each instant at which a session may begin, the lanes of a venue suffice."""
        uses: dict[str, list[Row]] = defaultdict(list)
        for demand in self.demands:
            for option, venues in zip(self.options.of[demand.id], self.venue[demand.id], strict=True):
                for venue, literal in venues.items():
                    end = option.start + demand.duration_min
                    uses[venue].append((option.start, end, demand.lanes, demand.id, literal))
        for venue, rows in uses.items():
            fixed = [item.start for item in self.options.book.fixed if item.venue == venue]
            for instant, running in running_at(rows, fixed):
                room = self.problem.venues[venue].lanes - self._lanes_of_fixed(venue, instant)
                most: dict[str, int] = {row[3]: row[2] for row in running}
                if sum(most.values()) > room:
                    self.model.add(sum(row[2] * row[4] for row in running) <= room)

    def _lanes_of_fixed(self, venue: str, instant: int) -> int:
        fixed = self.options.book.fixed
        return sum(item.lanes for item in fixed if item.venue == venue and item.start <= instant < item.end)

    def _add_coach_days(self) -> None:
        """Rule 3: sessions of a coach on one date."""
        led: dict[tuple[str, int], list[Literal]] = defaultdict(list)
        for days in self.leads.values():
            for date, team in days.items():
                for coach, literal in team.items():
                    led[coach, date].append(literal)
        fixed: dict[tuple[str, int], int] = defaultdict(int)
        for item in self.options.book.fixed:
            for coach in item.coaches:
                fixed[coach, self.local.date(item.start)] += 1
        for (coach, date), literals in led.items():
            room = self.problem.coaches[coach].max_sessions_per_day - fixed[coach, date]
            if len(literals) > room:
                self.model.add(sum(literals) <= room)

    def _add_coach_overlaps(self) -> None:
        """Rule 3: one session at a time, and the way between venues."""
        led: dict[str, list[Row]] = defaultdict(list)
        for demand in self.demands:
            for option, team in zip(self.options.of[demand.id], self.team[demand.id], strict=True):
                for coach, literal in team.items():
                    led[coach].append((option.start, option.start + demand.duration_min, 1, demand.id, literal))
        for rows in led.values():
            for running in largest(running_at(rows)):
                if len({row[3] for row in running}) > 1:
                    self.model.add_at_most_one([row[4] for row in running])
        if self.problem.policy.travel_min:
            for first, second in combinations(self.demands, 2):
                self._add_travel(first, second)

    def _add_travel(self, first: Demand, second: Demand) -> None:
        """No coach leads both at two venues with less than the way between them."""
        coaches = sorted(set(first.coaches) & set(second.coaches))
        travel_min = self.problem.policy.travel_min
        reach = Reach(-second.duration_min - travel_min, first.duration_min + travel_min)
        starts = self.starts[first.id], self.starts[second.id]
        ranges = related_ranges(*starts, reach, self.local.date)
        for i, (begin, end) in enumerate(ranges):
            for j in range(begin, end):
                for venue1, one in self.venue[first.id][i].items():
                    others = [lit for venue2, lit in self.venue[second.id][j].items() if venue2 != venue1]
                    dates = self.options.of[first.id][i].date, self.options.of[second.id][j].date
                    for other, coach in ((other, coach) for other in others for coach in coaches):
                        self._not_both(first, second, dates, coach, [one, other])

    def _not_both(self, first: Demand, second: Demand, dates: tuple[int, int], coach: str, when: list[Literal]) -> None:
        one = self.leads[first.id][dates[0]].get(coach)
        other = self.leads[second.id][dates[1]].get(coach)
        if one is not None and other is not None:
            self.model.add_bool_or([~one, ~other, *(~literal for literal in when)])

    def _add_coach_peak(self) -> None:
        """The objective's largest number of placed demands of one coach, by ISO week."""
        if not self.problem.weights.coach_peak:
            return
        led: dict[tuple[int, str], list[Literal]] = defaultdict(list)
        for days in self.leads.values():
            for date, team in days.items():
                for coach, literal in team.items():
                    led[(date - 1) // 7, coach].append(literal)
        for week in sorted({week for week, _ in led}):
            rows = [literals for (of, _), literals in led.items() if of == week]
            peak = self.model.new_int_var(0, max(map(len, rows)), "")
            for literals in rows:
                self.model.add(sum(literals) <= peak)
            self.model.add(sum(literal for row in rows for literal in row) <= len(rows) * peak)
            self.peaks.append(self.problem.weights.coach_peak * peak)

    def _order_equal_demands(self) -> None:
        """Of demands that differ in nothing but the id, the one listed first goes first and is left out last."""
        alike: dict[object, list[Demand]] = defaultdict(list)
        for demand in self.demands:
            if demand.id not in self.problem.current:
                alike[_all_but_id(demand)].append(demand)
        for demands in alike.values():
            for first, second in combinations(demands, 2):
                self.model.add_implication(self.left_out[first.id], self.left_out[second.id])
                dates = sorted(self.on[first.id])
                for index in range(1, len(dates)):
                    later = sum(self.on[second.id][date] for date in dates[:index])
                    self.model.add(later <= sum(self.on[first.id][date] for date in dates[:index]))


def _all_but_id(demand: Demand) -> object:
    return tuple(value for name, value in vars(demand).items() if name != "id")


def running_at(rows: Sequence[Row], instants: Iterable[int] = ()) -> list[tuple[int, list[Row]]]:
    """For each instant at which a row (start, end, ...) starts, and each of the given ones: the rows that run then."""
    ordered = sorted(rows, key=lambda row: (row[0], row[1], row[3]))
    found: list[tuple[int, list[Row]]] = []
    running: list[Row] = []
    position = 0
    for instant in sorted({row[0] for row in rows} | set(instants)):
        while position < len(ordered) and ordered[position][0] <= instant:
            running.append(ordered[position])
            position += 1
        running = [row for row in running if row[1] > instant]
        if running:
            found.append((instant, list(running)))
    return found


def largest(found: list[tuple[int, list[Row]]]) -> list[list[Row]]:
    """The sets of rows that run together, without those that a neighbour holds whole."""
    sets = [rows for _, rows in found]
    names = [{id(row) for row in rows} for rows in sets]
    return [
        rows
        for i, rows in enumerate(sets)
        if not (i + 1 < len(sets) and names[i] <= names[i + 1]) and not (i > 0 and names[i] < names[i - 1])
    ]
