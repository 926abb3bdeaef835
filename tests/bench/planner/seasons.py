"""Seasons of a made-up club, drawn from a seed: one pattern of a week, repeated with all that happens in a season.

python -m tests.bench.planner.seasons [weeks [seed [seconds]]] solves one and prints objective, bound, gap and memory.
"""

import json
import random
import resource
import sys
import time
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

ZONE = ZoneInfo("Europe/Dublin")
FIRST_DAY = date(2027, 1, 4)
GROUPS, SIZE, COACHES = 10, 22, 7
STRAIGHTS = ((8, range(7)), (4, (0, 1, 2, 3, 5)), (6, (0, 2, 4, 5, 6)))  # lanes, days
EVENING, MORNING, WEEKEND = ("16:00", "20:00"), ("06:30", "08:00"), ("09:00", "13:00")
# kind, also, minutes, priority, lanes, observers
HARD, SHARP, EASY = ("hard", [], 75, 3, 3, 1), ("technique", [], 45, 2, 2, 1), ("easy", [], 45, 1, 1, 1)
WATCHED, STEADY = ("technique", [], 45, 2, 2, 2), ("moderate", [], 60, 1, 2, 1)
PATTERNS = (
    (HARD, ("technique", ["hard"], 90, 2, 3, 1), STEADY, EASY),
    (HARD, SHARP, EASY),
    (HARD, SHARP, STEADY, EASY),
    (HARD, HARD, ("technique", ["moderate"], 90, 2, 3, 1), WATCHED, EASY),
    (HARD, WATCHED, ("technique", ["easy"], 60, 2, 2, 1), STEADY),
)
NEAR_IN_TIME = {
    "rest_days_per_week": 2,
    "ideal_between_technique_h": 44,
    "separation_h": {
        "hard": {"technique": 34, "hard": 44, "meet": 36, "moderate": 12},
        "meet": {"technique": 34, "hard": 44, "moderate": 12},
        "technique": {"technique": 20, "hard": 12, "meet": 20},
        "moderate": {"technique": 16, "hard": 12, "meet": 16},
        "easy": {"technique": 8},
    },
}


def season(weeks, seed, groups=GROUPS, size=SIZE, coaches=COACHES, straights=3):
    """A problem document of so many weeks, the same for the same arguments."""
    return _Season(weeks, random.Random(seed), groups, size, coaches, straights).document()


class _Season:
    def __init__(self, weeks, rng, groups, size, coaches, straights):
        self.weeks, self.rng, self.size = weeks, rng, size
        self.groups = [f"g{n:02}" for n in range(1, groups + 1)]
        self.coaches = [f"c{n:02}" for n in range(1, coaches + 1)]
        self.members = {g: [f"a{n * size + m:04}" for m in range(1, size + 1)] for n, g in enumerate(self.groups)}
        self.venues = {f"v{n + 1}": STRAIGHTS[n % len(STRAIGHTS)] for n in range(straights)}

    def document(self):
        demands = self._demands()
        return {
            "version": 1,
            "timezone": str(ZONE),
            "horizon": {"first_day": FIRST_DAY.isoformat(), "days": 7 * self.weeks},
            "grid_min": 15,
            "athletes": [self._athlete(a) for members in self.members.values() for a in members],
            "groups": [self._group(n, g) for n, g in enumerate(self.groups)],
            "coaches": self._coaches(),
            "venues": [self._venue(v, lanes, days) for v, (lanes, days) in self.venues.items()],
            "fixed": self._fixed(),
            "demands": demands,
        }

    def _span(self, week, day, hours):
        on = FIRST_DAY + timedelta(days=7 * week + day)
        begin, end = (datetime.fromisoformat(f"{on}T{hour}").replace(tzinfo=ZONE) for hour in hours)
        return {"start": begin.isoformat(timespec="minutes"), "end": end.isoformat(timespec="minutes")}

    def _athlete(self, name):
        away = [
            self._span(week, self.rng.randrange(5), self.rng.choice([("16:00", "18:00"), ("17:00", "19:00")]))
            for week in range(self.weeks)
            if self.rng.random() < 0.1
        ]
        if self.rng.random() < 0.3:
            first = self.rng.randrange(self.weeks)
            away += [self._span(first, day, ("06:00", "22:00")) for day in range(7)]
        cap = self.rng.choice([420, 480, 600]) if self.rng.random() < 0.08 else None
        return {"id": name, "weekly_minutes_cap": cap, "unavailable": away}

    def _group(self, number, name):
        row = {"id": name, "athletes": self.members[name]}
        if number % 3 == 1:
            row["policy"] = NEAR_IN_TIME
        return row

    def _coaches(self):
        found = []
        for number, name in enumerate(self.coaches):
            days = sorted(self.rng.sample(range(7), 5 + number % 3))
            begin = self.rng.choice(["16:00", "17:00"])
            spans = [
                self._span(week, day, WEEKEND if day > 4 else (begin, "20:00"))
                for week in range(self.weeks)
                for day in days
                if self.rng.random() > 0.03
            ]
            if number % 3 == 0:
                spans += [self._span(week, day, MORNING) for week in range(self.weeks) for day in range(5)]
            found.append({"id": name, "max_sessions_per_day": 2 + number % 2, "available": spans})
        return found

    def _venue(self, name, lanes, days):
        hours = [(day, WEEKEND if day > 4 else EVENING) for day in days]
        hours += [(day, MORNING) for day in range(5)] if (lanes, days) == STRAIGHTS[0] else []
        spans = [
            self._span(week, day, at) for week in range(self.weeks) for day, at in hours if self.rng.random() > 0.01
        ]
        return {"id": name, "lanes": lanes, "open": spans}

    def _fixed(self):
        found = []
        for week in range(self.weeks):
            for group in self.groups:
                if self.rng.random() < 0.12:
                    found.append(self._item(len(found), "meet", week, 5, ("10:00", "14:00"), [group], load_min=40))
            who = self.rng.sample([a for m in self.members.values() for a in m], min(5, self.size))
            hours = ("14:00", "15:00")
            found.append(self._item(len(found), "hard", week, self.rng.randrange(5), hours, [], athletes=who))
        return found

    def _item(self, number, kind, week, day, hours, groups, **more):
        return {"id": f"f{number + 1:04}", "kind": kind, **self._span(week, day, hours), "groups": groups, **more}

    def _demands(self):
        found = []
        habits = [self._habits(n) for n in range(len(self.groups))]
        for week in range(self.weeks):
            for group, (days, preferred, venues, coaches) in zip(self.groups, habits, strict=True):
                number = self.groups.index(group)
                for n, (kind, also, minutes, priority, lanes, observers) in enumerate(PATTERNS[number % len(PATTERNS)]):
                    demand = {"id": f"d{len(found) + 1:04}", "kind": kind, "also": also, "group": group}
                    demand |= {"duration_min": minutes, "priority": priority, "lanes": lanes, "observers": observers}
                    demand["windows"] = [self._span(week, day, WEEKEND if day > 4 else EVENING) for day in days]
                    demand["preferred"] = [self._span(week, *one) for one in preferred[n]]
                    found.append(demand | {"venues": venues[n], "coaches": coaches})
        return found

    def _habits(self, number):
        """What a group does the same way every week: its days, and of each session what it likes and where it goes."""
        rng = self.rng
        days = sorted(rng.sample(range(7), 6)) if number % 2 else list(range(7))
        rows = PATTERNS[number % len(PATTERNS)]
        liked = [(day, WEEKEND if day > 4 else ("17:00", "18:30")) for day in sorted(rng.sample(days, 3))]
        preferred = [liked if rng.random() < 0.6 else [] for _ in rows]
        venues = [sorted(rng.sample(sorted(self.venues), rng.choice([2, 2, 3]))) for _ in rows]
        coaches = sorted(rng.sample(self.coaches, min(len(self.coaches), rng.choice([3, 4]))))
        return days, preferred, venues, coaches


def main() -> None:
    from sessions.core.planner.solve import solve_document

    weeks, seed, seconds = (int(told) for told in (sys.argv[1:] + ["38", "1", "45"][len(sys.argv) - 1 :])[:3])
    document = json.loads(json.dumps(season(weeks, seed)))
    began = time.perf_counter()
    plan = solve_document(document, seconds=seconds, workers=2)
    took = time.perf_counter() - began
    memory = [resource.getrusage(who).ru_maxrss // 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    gap = plan["objective"] - plan["bound"]
    print("| weeks, seed | demands | objective | bound | gap | seconds | MB itself, largest of its processes |")
    print(f"| {weeks}, {seed} | {len(document['demands'])} | {plan['objective']} | {plan['bound']}", end=" ")
    print(f"| {gap} ({100 * gap / max(1, plan['bound']):.1f} %) | {took:.1f} | {memory[0]}, {memory[1]} |")


if __name__ == "__main__":
    main()
