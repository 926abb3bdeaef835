"""The rehearsal of a season: planted weeks that cannot hold are found and no other, and the change that helps most."""

from datetime import date, datetime, time, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, given, settings

from sessions.core.planner.changes import changed
from sessions.core.planner.solve import solve_document
from sessions.core.rehearsal import Verdict, all_placed, only_places, rehearse
from sessions.core.rehearsal_changes import (
    SeasonChange,
    WeekSpan,
    WeekToHold,
    changed_document,
    changes_in,
    season_change,
    with_wider,
)
from tests.core.planner.brute_force import BruteForce
from tests.core.planner.tiny_problems import problems
from tests.sizes import LONG

ZONE = ZoneInfo("Europe/Dublin")
FIRST = date(2027, 10, 4)
"""A Monday four weeks before summer time ends in Ireland (31 October 2027: the last Sunday, Directive 2000/84/EC)."""
DAYS = range(7)
holds = partial(all_placed, seconds=30.0, workers=1, seed=1)


def solve(document, *, should_stop=None):
    """The planner; a week of exams has no single change that helps, and to look for one takes all the time it gets."""
    seconds = 5.0 if any(one["unavailable"] for one in document["athletes"]) else 30.0
    return solve_document(document, seconds=seconds, workers=1, seed=1, should_stop=should_stop)


def span(number, day, starts, ends):
    """A stretch of one date of a week by the wall clock; hours may be halves."""
    on = FIRST + timedelta(days=7 * number + day)
    walls = (time(int(hour), round(60 * (hour % 1))) for hour in (starts, ends))
    start, end = (datetime.combine(on, wall, ZONE).isoformat(timespec="minutes") for wall in walls)
    return {"start": start, "end": end}


def daily(number, starts, ends):
    return [span(number, day, starts, ends) for day in DAYS]


def week(number, **changes):
    """A week that holds: a hard and a technique session, one venue, two coaches who come from 17:00 on."""
    whole = {"start": span(number, 0, 0, 1)["start"], "end": span(number + 1, 0, 0, 1)["start"]}
    demands = [
        {"id": f"{kind}-{number}", "kind": kind, "also": [], "group": "sprint", "duration_min": 60, "priority": 2,
         "windows": daily(number, 16, 21), "venues": ["straight"], "lanes": 2, "coaches": ["rona", "bran"],
         "observers": 1}
        for kind in ("hard", "technique")
    ]  # fmt: skip
    document = {
        "version": 1, "timezone": "Europe/Dublin", "grid_min": 30,
        "horizon": {"first_day": (FIRST + timedelta(days=7 * number)).isoformat(), "days": 7},
        "athletes": [{"id": name, "unavailable": [whole] if changes.get("exams") else []} for name in ("a", "b", "c")],
        "groups": [{"id": "sprint", "athletes": ["a", "b", "c"]}],
        "coaches": [{"id": name, "available": changes.get("evenings", daily(number, 17, 21)),
                     "max_sessions_per_day": 2} for name in ("rona", "bran")],
        "venues": [{"id": "straight", "lanes": 8, "open": changes.get("open", daily(number, 16, 21))}],
        "fixed": changes.get("fixed", []),
        "demands": demands,
    }  # fmt: skip
    patterns = {f"{kind}-{number}": f"{kind} of the pattern" for kind in ("hard", "technique")}
    return WeekToHold(document, patterns, changes.get("left_out", {}))


def dark(number):
    """Civil dusk at half past five: the coaches come at five, and a session takes an hour."""
    return week(number, open=daily(number, 16, 17.5))


def meet(number):
    """A meet with its journey from Monday to Sunday."""
    start, end = span(number, 0, 8, 9)["start"], span(number, 6, 8, 22)["end"]
    return {"id": "meet", "kind": "meet", "start": start, "end": end, "groups": ["sprint"]}


def found_in(weeks, **options):
    found = rehearse(weeks, solve, holds, **options)
    return {finding.week.monday: finding for finding in found.findings}, found


def rules_of(finding):
    return {row["demand"]: {reason["rule"] for reason in row["because"]} for row in finding.lost}


# What is planted is found


def test_every_planted_week_is_found_and_no_other():
    weeks = [
        week(0),
        week(1, open=[]),
        week(2, exams=True),
        week(3, fixed=[meet(3)]),
        week(4),
        week(5, evenings=[]),
        dark(6),
        dark(7),
    ]
    findings, found = found_in(weeks)
    mondays = [one.monday for one in weeks]
    cannot = [finding.week.monday for finding in found.findings if finding.verdict is Verdict.CANNOT]
    assert cannot == [mondays[number] for number in (1, 2, 3, 5, 6, 7)]
    assert [finding.verdict for finding in found.findings].count(Verdict.HOLDS) == 2
    why = {1: "window", 2: "attendance", 3: "separation", 5: "window", 6: "window", 7: "window"}
    for number, rule in why.items():
        lost = rules_of(findings[mondays[number]])
        assert lost.keys() == {f"hard-{number}", f"technique-{number}"}
        assert all(rule in rules for rules in lost.values())
    assert all(reason["text"] for finding in found.findings for row in finding.lost for reason in row["because"])


def test_the_change_that_helps_most_weeks_is_found():
    """Two dark weeks want a coach who comes an hour earlier; the week of the meet wants something else."""
    _findings, found = found_in([week(0), week(1, fixed=[meet(1)]), dark(2), dark(3)])
    assert found.help is not None
    change = found.help.change
    assert change.verb == "add_available"
    assert dict(change.what)["coach"] in ("rona", "bran")
    assert [one.monday for one in found.help.weeks] == [dark(2).monday, dark(3).monday]
    for one in found.help.weeks:
        document = one.document
        for part in changes_in(change, one):
            document = changed(document, part)
        plan = solve(document)
        assert plan["unplaced"] == []
        assert all(row["start"][11:16] < "17:00" for row in plan["placed"])
    told = found.as_json()["help"]
    assert {row["from"] for row in told["change"]["spans"]} <= {"16:00", "16:30"}
    assert list(told["in_weeks"]) == [dark(2).monday, dark(3).monday]


def test_more_weeks_count_for_more_than_a_gentler_change():
    """A closed week beside them: the venue open for longer helps all three, an earlier coach only the dark ones."""
    _findings, found = found_in([week(1, open=[]), dark(2), dark(3)])
    assert found.help is not None
    assert found.help.change.verb == "add_open"
    assert len(found.help.weeks) == 3


def test_a_rule_that_is_eased_is_one_change_on_all_weeks():
    """Two evenings, 24 hours apart, where 44 are asked for between hard and hard. One meet keeps the third week."""

    def tight(number):
        one = week(number, evenings=[span(number, day, 17, 18) for day in (1, 2)])
        one.document["demands"][1]["kind"] = "hard"
        one.document["venues"][0]["open"] = [span(number, day, 17, 18) for day in (1, 2)]
        one.document["policy"] = {"separation_h": {"hard": {"hard": 44}}}
        return one

    _findings, found = found_in([tight(0), week(1), tight(2), tight(3)])
    assert found.help is not None
    assert len(found.help.weeks) == 3
    others = [change for change in with_wider({found.help.change}) if change.intrusion < found.help.change.intrusion]
    assert others == []


def test_equal_changes_are_told_by_the_least_intrusive():
    """A single dark week of one session: a coach who comes earlier and a venue that opens longer help alike."""
    one = dark(0)
    del one.document["demands"][1]
    _findings, found = found_in([one])
    assert found.help.change.verb == "add_available"
    assert len(found.help.change.spans) == 1


def test_what_cannot_even_be_asked_for_is_lost_and_no_change_is_tried_for_it():
    findings, found = found_in([week(0, left_out={"easy-0": "no_leader"}), week(1)])
    assert findings[week(0).monday].verdict is Verdict.CANNOT
    assert findings[week(0).monday].lost == ({"demand": "easy-0", "pattern": "easy-0", "left_out": "no_leader"},)
    assert (found.help, found.tried) == (None, 0)


def test_a_change_that_costs_another_week_its_place_is_not_told():
    """A test day that fills the first week could move to the second, and fill that one."""
    whole = {"start": span(0, 0, 0, 1)["start"], "end": span(0, 6, 0, 23)["end"]}
    blocking = {"id": "test-day", "kind": "hard", "groups": ["sprint"], **whole}
    move = SeasonChange("move_fixed", (("id", "test-day"), ("start", span(1, 0, 0, 1)["start"])))
    both = [week(0, fixed=[blocking]), week(1, fixed=[blocking])]
    before, after = (holds(only_places(one.document)) for one in both)
    moved = [changed_document(move, one) for one in both]
    assert (before, after) == (False, True)
    assert [holds(only_places(one)) for one in moved] == [True, False]

    def offering(document, *, should_stop=None):
        plan = solve(document) if holds(document) else {"status": "optimal", "unplaced": []}
        offer = {"change": {"move_fixed": dict(move.what)}}
        lost = [{"demand": row["id"], "because": [], "would_fit_if": [offer]} for row in document["demands"]]
        return plan if holds(document) else {**plan, "unplaced": lost}

    assert rehearse(both, offering, holds).help is None
    alone = rehearse(both[:1], offering, holds).help
    assert alone is not None
    assert alone.change == move


# Changes of the season


def test_a_change_of_one_week_is_the_same_in_another_over_a_clock_change():
    """Wall hours stay: 17:30 is 16:30 UTC in the last week of summer time and 17:30 UTC in the next."""
    before, after = week(3), week(4)
    change = season_change({"add_open": {"venue": "straight", **span(3, 1, 17.5, 18.5)}}, before)
    assert change == season_change({"add_open": {"venue": "straight", **span(4, 1, 17.5, 18.5)}}, after)
    assert changes_in(change, after) == [
        {"add_open": {"venue": "straight", "start": "2027-11-02T17:30+00:00", "end": "2027-11-02T18:30+00:00"}}
    ]
    assert changes_in(change, before)[0]["add_open"]["start"] == "2027-10-26T17:30+01:00"


def test_a_session_is_known_by_its_pattern():
    change = season_change({"set_demand": {"id": "hard-0", "field": "duration_min", "to": 45}}, week(0))
    assert changes_in(change, week(1)) == [{"set_demand": {"id": "hard-1", "field": "duration_min", "to": 45}}]
    by_hand = season_change({"set_demand": {"id": "hard-0", "field": "lanes", "to": 1}}, WeekToHold(week(0).document))
    assert changes_in(by_hand, week(1)) == []


def test_what_a_week_does_not_have_is_not_changed():
    drop = season_change({"drop_fixed": "meet"}, week(0, fixed=[meet(0)]))
    assert changed_document(drop, week(1)) is None
    document = changed_document(drop, week(0, fixed=[meet(0)]))
    assert document is not None
    assert document["fixed"] == []


def test_hours_asked_for_on_one_weekday_are_joined_and_offered_on_every_day():
    what = (("coach", "rona"),)
    early, late, other = (
        WeekSpan(1, "16:00", 0, "17:00"),
        WeekSpan(1, "16:30", 0, "17:30"),
        WeekSpan(3, "16:00", 0, "17:00"),
    )
    found = with_wider(SeasonChange("add_available", what, (one,)) for one in (early, late, other))
    joined = SeasonChange("add_available", what, (WeekSpan(1, "16:00", 0, "17:30"),))
    every_day = SeasonChange("add_available", what, tuple(WeekSpan(day, "16:00", 0, "17:30") for day in DAYS))
    assert joined in found
    assert found[-1] == every_day
    assert len(found) == 5


# While it runs


def test_progress_is_told_and_stopping_keeps_what_was_found():
    told = []
    weeks = [week(0, open=[]), week(1), week(2)]
    _findings, found = found_in(weeks, on_progress=told.append, should_stop=lambda: len(told) >= 2)
    assert told == [
        {"stage": "weeks", "done": 0, "of": 3, "cannot": 0},
        {"stage": "weeks", "done": 1, "of": 3, "cannot": 1},
    ]
    assert (len(found.findings), found.is_whole, found.help) == (1, False, None)


def test_stopped_among_the_changes_it_keeps_the_verdicts():
    told = []
    _findings, found = found_in([dark(0)], on_progress=told.append, should_stop=lambda: told[-1]["stage"] == "changes")
    assert ([finding.verdict for finding in found.findings], found.is_whole) == ([Verdict.CANNOT], False)


def test_time_that_ran_out_is_no_proof():
    def hasty(document, *, should_stop=None):
        rows = [{"demand": row["id"], "because": [], "would_fit_if": []} for row in document["demands"]]
        return {"status": "feasible", "unplaced": rows}

    found = rehearse([week(0)], hasty, holds)
    assert [finding.verdict for finding in found.findings] == [Verdict.OPEN]
    assert rehearse([week(0)], hasty, holds, should_stop=iter([False, True]).__next__).findings == ()


# Against brute force


@given(problems())
@settings(max_examples=100 if LONG else 3, deadline=None, suppress_health_check=list(HealthCheck))
def test_the_verdict_is_that_of_trying_every_placement(document):
    """On tiny weeks: a week cannot hold where no placement of all its demands keeps every rule, and with the change
    that is told one does."""
    found = rehearse([WeekToHold(document)], solve, holds)
    can = BruteForce(only_places(document)).least_cost() == 0
    assert found.findings[0].verdict is (Verdict.HOLDS if can else Verdict.CANNOT)
    if found.help is not None:
        document = changed_document(found.help.change, found.help.weeks[0])
        assert BruteForce(only_places(document)).least_cost() == 0
