"""The planning contract by exhaustion: every plan of a tiny problem, judged from the contract's text alone.

It works on the JSON document and shares no code with the planner.
"""

import itertools
import math
from datetime import datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

POLICY = {
    "separation_h": {
        "hard": {"technique": 34, "hard": 44, "meet": 36, "moderate": 12},
        "meet": {"technique": 34, "hard": 44, "moderate": 12},
        "technique": {"technique": 44, "hard": 12, "meet": 24},
        "moderate": {"technique": 16, "hard": 12, "meet": 16},
        "easy": {"technique": 8},
    },
    "sessions_per_day": 1,
    "rest_days_per_week": 1,
    "max_excused_share": 0.34,
    "excusals_per_week": None,
    "travel_min": 0,
    "fresh_after_h": 48,
    "ideal_between_technique_h": 60,
}
WEIGHTS = {
    "unplaced": 10000,
    "excused": 200,
    "moved": 40,
    "coach_changed": 20,
    "unpreferred": 30,
    "tired": 15,
    "close_pair": 10,
    "coach_peak": 5,
}
UTC = ZoneInfo("UTC")


def at(text):
    return datetime.fromisoformat(text).astimezone(UTC)


def inside(span, start, end):
    return at(span["start"]) <= start and end <= at(span["end"])


def touches(span, start, end):
    return at(span["start"]) < end and start < at(span["end"])


def hours(number):
    return timedelta(hours=1) * float(number)


class BruteForce:
    def __init__(self, document):
        self.doc = document
        self.zone = ZoneInfo(document["timezone"])
        self.policy = {**POLICY, **document.get("policy", {})}
        self.weights = {**WEIGHTS, **document.get("weights", {})}
        self.groups = {g["id"]: g for g in document["groups"]}
        self.group_policy = {g["id"]: {**self.policy, **g.get("policy", {})} for g in document["groups"]}
        self.athletes = {a["id"]: a for a in document["athletes"]}
        self.coaches = {c["id"]: c for c in document["coaches"]}
        self.venues = {v["id"]: v for v in document["venues"]}
        self.current = {c["demand"]: c for c in document.get("current", [])}
        self.fixed = [self._fixed(f) for f in document["fixed"]]
        self.starts = {d["id"]: self._starts(d) for d in document["demands"]}
        self.away = {d["id"]: self._away(d) for d in document["demands"]}

    def _fixed(self, row):
        members = {a for g in row["groups"] for a in self.groups[g]["athletes"]} | set(row.get("athletes", []))
        start, end = at(row["start"]), at(row["end"])
        venue = row.get("venue")
        return {
            "id": row["id"],
            "kinds": [row["kind"], *row.get("also", [])],
            "start": start,
            "end": end,
            "who": members - set(row.get("absent", [])),
            "groups": row["groups"],
            "coaches": row.get("coaches", []),
            "venue": venue,
            "lanes": row.get("lanes", self.venues[venue]["lanes"] if venue else 0),
            "load": row.get("load_min", (end - start) // timedelta(minutes=1)),
            "placed": False,
        }

    def _starts(self, demand):
        length = timedelta(minutes=demand["duration_min"])
        found = set()
        for window in demand["windows"]:
            minute = at(window["start"])
            while minute + length <= at(window["end"]):
                local = minute.astimezone(self.zone)
                if (local.hour * 60 + local.minute) % self.doc["grid_min"] == 0:
                    found.add(minute)
                minute += timedelta(minutes=1)
        return sorted(found)

    def _away(self, demand):
        length = timedelta(minutes=demand["duration_min"])
        starts = self.starts[demand["id"]]
        return {
            a
            for a in self.groups[demand["group"]]["athletes"]
            if starts
            and all(any(touches(u, s, s + length) for u in self.athletes[a].get("unavailable", [])) for s in starts)
        }

    def day(self, moment):
        return moment.astimezone(self.zone).date()

    def week(self, moment):
        return self.day(moment).isocalendar()[:2]

    def choices(self, demand):
        """Every place of one demand that rules 1, 2 and the share allow."""
        length = timedelta(minutes=demand["duration_min"])
        members = self.groups[demand["group"]]["athletes"]
        away = self.away[demand["id"]]
        others = [a for a in members if a not in away]
        if members and not others:
            return
        share = Fraction(str(self.group_policy[demand["group"]]["max_excused_share"]))
        most = math.floor(share * len(others))
        for start, venue in itertools.product(self.starts[demand["id"]], demand["venues"]):
            end = start + length
            if not any(inside(o, start, end) for o in self.venues[venue]["open"]):
                continue
            for team in itertools.combinations(demand["coaches"], demand["observers"]):
                if demand.get("qualified") and not set(team) & set(demand["qualified"]):
                    continue
                if not all(any(inside(v, start, end) for v in self.coaches[c]["available"]) for c in team):
                    continue
                for count in range(most + 1):
                    for excused in itertools.combinations(others, count):
                        yield {
                            "id": demand["id"],
                            "kinds": [demand["kind"], *demand.get("also", [])],
                            "start": start,
                            "end": end,
                            "who": set(others) - set(excused),
                            "excused": set(excused),
                            "groups": [demand["group"]],
                            "coaches": list(team),
                            "venue": venue,
                            "lanes": demand["lanes"],
                            "load": demand["duration_min"],
                            "placed": True,
                        }

    def least_cost(self):
        demands = self.doc["demands"]
        options = [[None, *(c for c in self.choices(d) if self.is_sound([c]))] for d in demands]
        best = None
        for plan in itertools.product(*options):
            placed = [item for item in plan if item is not None]
            cost = self.cost(placed)
            if (best is None or cost < best) and self.is_sound(placed):
                best = cost
        return best

    def is_sound(self, placed):
        items = [*self.fixed, *placed]
        return self._lanes(items, placed) and self._coach_rule(items, placed) and self._athlete_rule(items, placed)

    def _lanes(self, items, placed):
        for item in placed:
            at_venue = [o for o in items if o["venue"] == item["venue"]]
            moments = [item["start"], *(o["start"] for o in at_venue if item["start"] <= o["start"] < item["end"])]
            for moment in moments:
                used = sum(o["lanes"] for o in at_venue if o["start"] <= moment < o["end"])
                if used > self.venues[item["venue"]]["lanes"]:
                    return False
        return True

    def _coach_rule(self, items, placed):
        for item in placed:
            for coach in item["coaches"]:
                led = [o for o in items if coach in o["coaches"]]
                today = [o for o in led if self.day(o["start"]) == self.day(item["start"])]
                if len(today) > self.coaches[coach]["max_sessions_per_day"]:
                    return False
                for other in led:
                    if other is item:
                        continue
                    far = item["venue"] and other["venue"] and item["venue"] != other["venue"]
                    way = timedelta(minutes=self.policy["travel_min"] if far else 0)
                    if not (other["end"] + way <= item["start"] or item["end"] + way <= other["start"]):
                        return False
        return True

    def _policies(self, athlete):
        mine = [self.group_policy[g] for g, row in self.groups.items() if athlete in row["athletes"]]
        return mine or [self.policy]

    def _gap(self, policies, earlier, later):
        return max(hours(p["separation_h"].get(k1, {}).get(k2, 0)) for p in policies for k1 in earlier for k2 in later)

    def _athlete_rule(self, items, placed):
        return all(self._athlete_is_fine(a, items, placed) for a in self.athletes)

    def _athlete_is_fine(self, athlete, items, placed):
        mine = [i for i in items if athlete in i["who"]]
        new = [i for i in mine if i["placed"]]
        policies = self._policies(athlete)
        limits = [p["excusals_per_week"] for p in policies if p["excusals_per_week"] is not None]
        weeks = [self.week(p["start"]) for p in placed if athlete in p["excused"]]
        if limits and any(weeks.count(w) > min(limits) for w in weeks):
            return False
        for item in new:
            if any(touches(u, item["start"], item["end"]) for u in self.athletes[athlete].get("unavailable", [])):
                return False
            for other in mine:
                if other is not item and not self._apart(policies, item, other):
                    return False
        return self._counts(athlete, policies, mine, new)

    def _apart(self, policies, item, other):
        first, second = sorted((item, other), key=lambda i: i["start"])
        gap = second["start"] - first["end"]
        return gap >= timedelta(0) and gap >= self._gap(policies, first["kinds"], second["kinds"])

    def _counts(self, athlete, policies, mine, new):
        cap = self.athletes[athlete].get("weekly_minutes_cap")
        rest = max(p["rest_days_per_week"] for p in policies)
        per_day = [p["sessions_per_day"] for p in policies if p["sessions_per_day"] is not None]
        for item in new:
            week = [i for i in mine if self.week(i["start"]) == self.week(item["start"])]
            if cap is not None and sum(i["load"] for i in week) > cap:
                return False
            if per_day and sum(self.day(i["start"]) == self.day(item["start"]) for i in week) > min(per_day):
                return False
            fixed_days = {self.day(i["start"]) for i in week if not i["placed"]}
            days = {self.day(i["start"]) for i in week}
            if 7 - len(fixed_days) < rest:
                if days != fixed_days:
                    return False
            elif 7 - len(days) < rest:
                return False
        return True

    def cost(self, placed):
        counts = dict.fromkeys(WEIGHTS, 0)
        names = {p["id"] for p in placed}
        counts["unplaced"] = sum(d["priority"] for d in self.doc["demands"] if d["id"] not in names)
        peaks = {}
        by_id = {d["id"]: d for d in self.doc["demands"]}
        for item in placed:
            counts["excused"] += len(item["excused"])
            self._count_current(item, counts)
            preferred = by_id[item["id"]].get("preferred", [])
            if preferred and not any(at(s["start"]) <= item["start"] < at(s["end"]) for s in preferred):
                counts["unpreferred"] += 1
            for coach in item["coaches"]:
                key = self.week(item["start"]), coach
                peaks[key] = peaks.get(key, 0) + 1
        for week in {w for w, _ in peaks}:
            counts["coach_peak"] += max(n for (w, _), n in peaks.items() if w == week)
        self._count_pairs(placed, counts)
        return sum(counts[name] * self.weights[name] for name in WEIGHTS)

    def _count_current(self, item, counts):
        now = self.current.get(item["id"])
        if now is None:
            return
        if at(now["start"]) != item["start"] or now["venue"] != item["venue"]:
            counts["moved"] += 1 + (self.day(at(now["start"])) != self.day(item["start"]))
        counts["coach_changed"] += sum(c not in now["coaches"] for c in item["coaches"])

    def _count_pairs(self, placed, counts):
        for item in placed:
            group = item["groups"][0]
            policy = self.group_policy[group]
            others = [o for o in [*self.fixed, *placed] if o is not item and group in o["groups"]]
            if "technique" not in item["kinds"]:
                continue
            for other in others:
                gap = item["start"] - other["end"]
                strenuous = {"hard", "meet"} & set(other["kinds"])
                if strenuous and timedelta(0) <= gap < hours(policy["fresh_after_h"]):
                    counts["tired"] += 1
                seen_once = not other["placed"] or item["id"] < other["id"]
                if "technique" in other["kinds"] and seen_once:
                    between = max(gap, other["start"] - item["end"])
                    counts["close_pair"] += between < hours(policy["ideal_between_technique_h"])
