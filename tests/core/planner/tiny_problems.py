"""Tiny random problems in which every rule of the planning contract can bite."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

ZONE = ZoneInfo("Europe/Dublin")
FIRST_DAYS = (date(2027, 3, 1), date(2027, 3, 4), date(2027, 3, 26), date(2027, 10, 29))
KINDS = ("meet", "hard", "moderate", "technique", "easy")
PRIORITIES = st.integers(1, 3)


def text(day, hour):
    return datetime(day.year, day.month, day.day, hour, tzinfo=ZONE).isoformat(timespec="minutes")


def span(day, first, last):
    return {"start": text(day, first), "end": text(day, last)}


@st.composite
def kinds(draw):
    first = draw(st.sampled_from(KINDS))
    also = draw(st.lists(st.sampled_from([k for k in KINDS if k != first]), max_size=1))
    return {"kind": first, "also": also}


@st.composite
def spans(draw, days, most):
    found = []
    for day in draw(st.lists(st.sampled_from(days), max_size=most)):
        begin = draw(st.integers(15, 18))
        found.append(span(day, begin, begin + draw(st.integers(1, 3))))
    return found


@st.composite
def policies(draw, of_problem):
    whole = {
        "separation_h": st.dictionaries(
            st.sampled_from(KINDS),
            st.dictionaries(st.sampled_from(KINDS), st.sampled_from([1, 12, 20, 22.5, 44]), max_size=3),
            max_size=3,
        ),
        "sessions_per_day": st.sampled_from([1, 2, None]),
        "rest_days_per_week": st.sampled_from([0, 1, 5, 6]),
        "max_excused_share": st.sampled_from([0, 0.34, 0.5, 1]),
        "excusals_per_week": st.sampled_from([0, 1, None]),
        "fresh_after_h": st.sampled_from([24, 48]),
        "ideal_between_technique_h": st.sampled_from([24, 60]),
    }
    if of_problem:
        whole["travel_min"] = st.sampled_from([0, 30])
    return draw(st.fixed_dictionaries({}, optional=whole))


@st.composite
def problems(draw, first_days=FIRST_DAYS):
    first = draw(st.sampled_from(first_days))
    days = [first + timedelta(days=n) for n in range(3)]
    size = draw(st.integers(2, 3))
    athletes = [f"a{n}" for n in range(1, 4)]
    groups = [{"id": g, "athletes": draw(st.lists(st.sampled_from(athletes), unique=True))} for g in ("g1", "g2")]
    for group in groups:
        if draw(st.booleans()):
            group["policy"] = draw(policies(False))
    document = {
        "version": 1,
        "timezone": "Europe/Dublin",
        "horizon": {"first_day": first.isoformat(), "days": 3},
        "grid_min": 60,
        "policy": draw(policies(True)),
        "athletes": [
            {
                "id": a,
                "weekly_minutes_cap": draw(st.sampled_from([None, 60, 120, 150])),
                "unavailable": draw(spans(days, 2)),
            }
            for a in athletes
        ],
        "groups": groups,
        "coaches": [
            {
                "id": c,
                "available": [span(d, 15, draw(st.sampled_from([18, 20]))) for d in days],
                "max_sessions_per_day": draw(st.integers(1, 2)),
            }
            for c in ("c1", "c2")
        ],
        "venues": [
            {"id": v, "lanes": draw(st.integers(1, 2)), "open": [span(d, 14, 20) for d in days]} for v in ("v1", "v2")
        ],
        "fixed": [draw(fixed_items(f"f{n}", first, athletes)) for n in range(draw(st.integers(0, 3)))],
        "demands": [draw(demands(f"d{n}", days, 2 if size == 2 else 1)) for n in range(1, size + 1)],
    }
    document["current"] = [
        {"demand": d["id"], "start": d["windows"][0]["start"], "venue": "v1", "coaches": ["c1"]}
        for d in document["demands"]
        if draw(st.booleans())
    ]
    return document


@st.composite
def fixed_items(draw, name, first, athletes):
    day = first + timedelta(days=draw(st.integers(-3, 4)))
    begin = draw(st.integers(14, 18))
    item = {"id": name, **draw(kinds()), **span(day, begin, begin + draw(st.integers(1, 2)))}
    item["groups"] = draw(st.lists(st.sampled_from(["g1", "g2"]), unique=True))
    item["athletes"] = draw(st.lists(st.sampled_from(athletes), unique=True, max_size=1))
    item["absent"] = draw(st.lists(st.sampled_from(athletes), unique=True, max_size=1))
    if draw(st.booleans()):
        item["venue"] = "v1"
        if draw(st.booleans()):
            item["lanes"] = 1
    if draw(st.booleans()):
        item["coaches"] = ["c1"]
    if draw(st.booleans()):
        item["load_min"] = draw(st.sampled_from([0, 40]))
    return item


@st.composite
def demands(draw, name, days, width):
    windows = []
    for day in draw(st.lists(st.sampled_from(days), min_size=1, max_size=width, unique=True)):
        begin = draw(st.integers(15, 17))
        windows.append(span(day, begin, begin + draw(st.integers(1, 3))))
    coaches = draw(st.sampled_from([["c1"], ["c2"], ["c1", "c2"]]))
    demand = {
        "id": name,
        **draw(kinds()),
        "group": draw(st.sampled_from(["g1", "g2"])),
        "duration_min": draw(st.sampled_from([45, 60, 75])),
        "priority": draw(PRIORITIES),
        "windows": windows,
        "preferred": draw(spans(days, 1)),
        "venues": draw(st.sampled_from([["v1"], ["v2"], ["v1", "v2"]])),
        "lanes": draw(st.integers(1, 2)),
        "coaches": coaches,
        "observers": draw(st.integers(1, len(coaches))),
    }
    if draw(st.booleans()):
        demand["qualified"] = draw(st.sampled_from([[c] for c in coaches]))
    return demand
