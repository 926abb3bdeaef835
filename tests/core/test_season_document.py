"""A season as a document: phases stretched, cut, copied; starters; rules of a phase."""

from datetime import date
from itertools import count, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sessions.core.planner.problem import DEFAULT_SEPARATION_H
from sessions.core.season_document import (
    Fault,
    SeasonFault,
    copied,
    is_same_but_for_new_ids,
    minutes_of_week,
    split,
    stretched,
    with_phase,
    with_row,
    without_phase,
    without_row,
)
from sessions.core.season_policies import gentler, policy_in_phase
from sessions.core.season_starters import LEAST_WEEKS, STARTERS, WEEKS, phases_of, sessions_of


def season(*phases, weeks=20):
    rows = [
        {"id": name, "aim": "general", "name": "", "first_week": first, "last_week": last}
        for name, first, last in phases
    ]
    patterns = [{"id": f"p-{name}", "phase": name, "group": "g", "duration_min": 60} for name, _first, _last in phases]
    return {
        "name": "S", "first_monday": "2027-01-04", "weeks": weeks, "phases": rows, "patterns": patterns,
        "modifiers": [{"id": "m", "week": 3}], "policies": [{"id": "r-a", "phase": "a", "group": "g"}], "meets": [],
    }  # fmt: skip


def weeks_of(document):
    return {row["id"]: (row["first_week"], row["last_week"]) for row in document["phases"]}


def test_a_stretched_phase_pushes_its_neighbour_and_a_shorter_one_draws_it_along():
    given_season = season(("a", 1, 8), ("b", 9, 16), ("c", 17, 20))
    assert weeks_of(stretched(given_season, "a", 1, 10)) == {"a": (1, 10), "b": (11, 16), "c": (17, 20)}
    assert weeks_of(stretched(given_season, "a", 1, 5)) == {"a": (1, 5), "b": (6, 16), "c": (17, 20)}
    assert weeks_of(stretched(given_season, "b", 6, 18)) == {"a": (1, 5), "b": (6, 18), "c": (19, 20)}
    assert weeks_of(given_season) == {"a": (1, 8), "b": (9, 16), "c": (17, 20)}


def test_over_a_gap_neighbours_stay_where_they_are():
    given_season = season(("a", 1, 5), ("b", 9, 16))
    assert weeks_of(stretched(given_season, "a", 2, 7)) == {"a": (2, 7), "b": (9, 16)}
    assert weeks_of(stretched(given_season, "a", 1, 10)) == {"a": (1, 10), "b": (11, 16)}


@pytest.mark.parametrize(
    ("first", "last", "fault"),
    [(1, 16, Fault.SWALLOWED), (5, 4, Fault.BACKWARDS), (0, 4, Fault.OUTSIDE), (1, 21, Fault.OUTSIDE)],
)
def test_what_makes_no_season_is_refused(first, last, fault):
    with pytest.raises(SeasonFault) as refused:
        stretched(season(("a", 1, 8), ("b", 9, 16)), "a", first, last)
    assert refused.value.fault is fault


@given(data=st.data())
def test_phases_never_overlap_and_only_the_one_stretched_has_the_weeks_asked_for(data):
    borders = sorted(data.draw(st.sets(st.integers(2, 19), min_size=1, max_size=5)))
    spans = list(zip([1, *borders], [*(one - 1 for one in borders), 20], strict=True))
    given_season = season(*((f"p{number}", *span) for number, span in enumerate(spans)))
    which = data.draw(st.integers(0, len(spans) - 1))
    first = data.draw(st.integers(1, 20))
    last = data.draw(st.integers(first, 20))
    try:
        found = stretched(given_season, f"p{which}", first, last)
    except SeasonFault as fault:
        assert fault.fault is Fault.SWALLOWED
        return
    rows = found["phases"]
    assert (rows[which]["first_week"], rows[which]["last_week"]) == (first, last)
    for one, other in pairwise(rows):
        assert one["first_week"] <= one["last_week"] < other["first_week"] <= other["last_week"]


def test_a_phase_is_cut_in_two_with_the_same_pattern_and_rules():
    numbers = count(1)
    found = split(season(("a", 1, 8), ("b", 9, 16)), "a", 5, lambda: f"n{next(numbers)}", aim="specific")
    assert weeks_of(found) == {"a": (1, 4), "n1": (5, 8), "b": (9, 16)}
    assert [row["duration_min"] for row in found["patterns"] if row["phase"] == "n1"] == [60]
    assert sum(row["phase"] == "n1" for row in found["policies"]) == 1
    with pytest.raises(SeasonFault):
        split(found, "a", 1, lambda: "x", aim="general")


def test_rows_come_and_go_and_a_phase_takes_its_own_along():
    given_season = season(("a", 1, 8), ("b", 9, 16))
    assert minutes_of_week(with_row(given_season, "patterns", given_season["patterns"][0] | {"id": "q"}), 3) == 120
    assert minutes_of_week(given_season, 18) == 0
    assert [row["id"] for row in without_row(given_season, "patterns", "p-a")["patterns"]] == ["p-b"]
    left = without_phase(given_season, "a")
    assert (weeks_of(left), len(left["patterns"]), left["policies"]) == ({"b": (9, 16)}, 1, [])
    added = {"id": "n", "aim": "taper", "name": "", "first_week": 1, "last_week": 8}
    assert list(weeks_of(with_phase(left, added))) == ["n", "b"]
    with pytest.raises(SeasonFault):
        with_phase(left, added | {"last_week": 9})


def test_a_copy_has_new_ids_everywhere_and_hangs_together():
    numbers = count(1)
    old = season(("a", 1, 8), ("b", 9, 16))
    new = copied(old, name="Next", first_monday="2028-01-03", new_id=lambda: f"n{next(numbers)}")
    assert (new["name"], new["first_monday"], new["weeks"]) == ("Next", "2028-01-03", 20)
    ids = [row["id"] for kind in ("phases", "patterns", "policies", "modifiers") for row in new[kind]]
    assert len(set(ids)) == len(ids) == 6
    assert not set(ids) & {"a", "b", "p-a", "p-b", "r-a", "m"}
    phases = {row["id"] for row in new["phases"]}
    assert {row["phase"] for kind in ("patterns", "policies") for row in new[kind]} <= phases
    assert date.fromisoformat(new["first_monday"]).weekday() == 0


@pytest.mark.parametrize("starter", STARTERS, ids=lambda one: one.key)
@pytest.mark.parametrize("weeks", [LEAST_WEEKS, 13, 26, 40, 52, 60])
def test_a_starter_fills_every_week_once(starter, weeks):
    phases = phases_of(starter, weeks)
    assert [week for _aim, first, last in phases for week in range(first, last + 1)] == list(range(1, weeks + 1))
    assert all(last - first + 1 == 2 for aim, first, last in phases if aim == "taper")
    with pytest.raises(ValueError, match="11"):
        phases_of(starter, 11)


def test_the_young_have_no_hard_session_and_no_taper_in_any_starter():
    for aim in WEEKS["youth"]:
        assert all(kind != "hard" for kind, _minutes, _priority in sessions_of("youth", aim))
    assert sessions_of("youth", "taper") == sessions_of("youth", "competition")


@pytest.mark.parametrize("discipline", ["sprint", "distance"])
def test_a_starter_s_taper_keeps_kinds_and_number_and_cuts_about_half(discipline):
    """41 to 60 % less volume, intensity and number of sessions kept (Bosquet et al. 2007)."""
    usual, taper = sessions_of(discipline, "competition"), sessions_of(discipline, "taper")
    assert [one[0] for one in usual] == [one[0] for one in taper]
    kept = sum(one[1] for one in taper) / sum(one[1] for one in usual)
    assert 0.40 <= kept <= 0.59


def test_gentler_is_a_quarter_longer_one_rest_day_more_and_a_fifth_excused():
    found = gentler({})
    for earlier, row in DEFAULT_SEPARATION_H.items():
        for later, hours in row.items():
            assert found["separation_h"][earlier][later] == 1.25 * hours
    assert (found["rest_days_per_week"], found["max_excused_share"]) == (2, 0.2)
    own = gentler({"rest_days_per_week": 7, "max_excused_share": 0.1, "fresh_after_h": 40})
    assert (own["rest_days_per_week"], own["max_excused_share"], own["fresh_after_h"]) == (7, 0.1, 40)


def test_what_holds_in_a_phase():
    usual = {"rest_days_per_week": 2, "fresh_after_h": 40}
    assert policy_in_phase(usual, None, {}) == usual
    assert policy_in_phase(usual, "own", {"fresh_after_h": 30}) == {"rest_days_per_week": 2, "fresh_after_h": 30}
    assert policy_in_phase(usual, "gentler", {})["rest_days_per_week"] == 3


def test_the_same_wish_twice_is_one_whatever_ids_its_new_rows_were_given():
    before = season(("a", 1, 8), ("b", 9, 16))
    numbers = count()

    def new_id():
        return f"n{next(numbers)}"

    one, again, other = (split(before, "a", week, new_id, aim="specific") for week in (4, 4, 5))
    assert one != again and is_same_but_for_new_ids(one, again, before)
    assert not is_same_but_for_new_ids(one, other, before)
    assert not is_same_but_for_new_ids(one, before, before)
    moved = before | {"phases": [row | {"id": "b" if row["id"] == "a" else "a"} for row in before["phases"]]}
    assert not is_same_but_for_new_ids(before, moved, before), "rows that were there are told apart"
