"""A week that has a plan, and what happens to it: the problems of finding the least change."""

import copy
from datetime import datetime, timedelta


def with_current(document, plan):
    """The document with the plan in force."""
    rows = [{key: row[key] for key in ("demand", "start", "venue", "coaches")} for row in plan["placed"]]
    return copy.deepcopy(document) | {"current": rows}


def replans(document, plan):
    """Per name the disturbed problem: a venue under water and a coach ill on the busiest day, a meet a day later, an
    athlete away from the busiest day on."""
    settled = with_current(document, plan)
    days = [row["start"][:10] for row in plan["placed"]]
    day = max(sorted(set(days)), key=days.count)
    on_day = [row for row in plan["placed"] if row["start"][:10] == day]
    yield "flooded venue", _without(settled, "venues", on_day[0]["venue"], "open", day)
    yield "sick coach", _without(settled, "coaches", on_day[0]["coaches"][0], "available", day)
    if any(row["kind"] == "meet" for row in document["fixed"]):
        yield "moved meet", _later_meet(settled)
    yield "absent athlete", _absent(settled, day)


def _without(document, table, name, field, day):
    """The hours of a venue or a coach on that day are gone."""
    new = copy.deepcopy(document)
    row = next(row for row in new[table] if row["id"] == name)
    row[field] = [span for span in row[field] if span["start"][:10] != day]
    return new


def _later_meet(document):
    new = copy.deepcopy(document)
    meet = next(row for row in new["fixed"] if row["kind"] == "meet")
    for key in ("start", "end"):
        moment = datetime.fromisoformat(meet[key]) + timedelta(days=1)
        meet[key] = moment.isoformat(timespec="minutes")
    return new


def _absent(document, day):
    """The first athlete of the first group is unavailable from that day's first hour for two days."""
    new = copy.deepcopy(document)
    name = next(group["athletes"][0] for group in new["groups"] if group["athletes"])
    athlete = next(row for row in new["athletes"] if row["id"] == name)
    start = datetime.fromisoformat(f"{day}T00:00+00:00")
    spans = [{"start": start.isoformat("T", "minutes"), "end": (start + timedelta(days=2)).isoformat("T", "minutes")}]
    athlete["unavailable"] = [*athlete.get("unavailable", []), *spans]
    return new
