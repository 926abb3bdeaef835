"""What differs between two plans of one week, and a mix of both."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.planner.local_time import read_instant
from sessions.core.week_changes import Aspect, Place, changes, keeping_easier, mixed, place_of, places_of_plan
from tests.sizes import examples

ZONE = ZoneInfo("Europe/Dublin")


def place(day: int = 2, hour: int = 18, **other) -> Place:
    start = datetime(2027, 3, day, hour, tzinfo=ZONE)
    return Place(start, start + timedelta(minutes=60), **{"venue": "v", "coaches": ("c",)} | other)


PLACES = st.builds(
    place,
    st.integers(1, 3),
    st.integers(17, 19),
    venue=st.sampled_from("vw"),
    coaches=st.sampled_from([("c",), ("d",), ("c", "d")]),
    excused=st.frozensets(st.sampled_from("ab")),
)
WEEKS = st.dictionaries(st.sampled_from(["d1", "d2", "d3", "d4"]), PLACES)


def test_each_aspect_is_named():
    before = {"d1": place(), "d2": place(), "d3": place(), "d4": place(), "d5": place(), "d6": place()}
    after = {
        "d1": place(3),
        "d2": place(hour=19),
        "d3": place(venue="w"),
        "d4": place(coaches=("d",)),
        "d5": place(away=frozenset("a")),
        "d7": place(),
    }
    found = {change.demand: change.aspects for change in changes(before, after, ZONE)}
    assert found == {
        "d1": {Aspect.DAY},
        "d2": {Aspect.TIME},
        "d3": {Aspect.VENUE},
        "d4": {Aspect.COACHES},
        "d5": {Aspect.WHO},
        "d6": {Aspect.TAKEN_OUT},
        "d7": {Aspect.PLACED},
    }


def test_the_order_of_coaches_and_reasons_is_no_change():
    assert changes({"d": place(coaches=("c", "d"))}, {"d": place(coaches=("d", "c"), reasons=("x",))}, ZONE) == []


@given(WEEKS, WEEKS, st.sets(st.sampled_from(["d1", "d2", "d3", "d4"])))
@settings(max_examples=examples(500))
def test_a_mix_differs_only_in_what_was_chosen(before, after, chosen):
    mix = mixed(before, after, chosen)
    assert {change.demand for change in changes(before, mix, ZONE)} <= chosen
    assert {change.demand for change in changes(mix, after, ZONE)}.isdisjoint(chosen)
    assert changes(before, mixed(before, after, {*before, *after}), ZONE) == changes(before, after, ZONE)


def test_an_easier_version_goes_with_a_new_plan_unless_it_was_taken_back():
    """Of those who stay away in it: what the draft said of them, else what was agreed with them before."""
    before = {"d": place(excused=frozenset("ab"), easier=frozenset("a"))}
    after = {"d": place(4, excused=frozenset("ab"), away=frozenset("c")), "e": place(excused=frozenset("a"))}
    found = keeping_easier(before, after, {"d": frozenset("abcd"), "e": frozenset("a")})
    assert {key: one.easier for key, one in found.items()} == {"d": frozenset("ac"), "e": frozenset("a")}
    assert keeping_easier(before, {"d": place()}, {"d": frozenset("a")}) == {"d": place()}


@given(PLACES)
@settings(max_examples=examples(200))
def test_a_place_survives_the_way_through_json(one):
    assert place_of(one.as_document()) == one
    assert places_of_plan({"placed": [{"demand": "d", **one.as_document()}]}) == {"d": one}


def test_the_planner_gets_the_same_instant():
    placement = place().as_placement("d")
    assert placement.start == read_instant("2027-03-02T18:00+00:00")
    assert placement.start == datetime(2027, 3, 2, 18, tzinfo=UTC).timestamp() / 60
