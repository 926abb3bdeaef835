"""Numbers of a club: what is shown, held against the one decision and against somebody who subtracts."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.core.club_numbers import shown_number, shown_numbers
from athletes.core.permissions import decide
from athletes.core.permissions.facts import Act, Facts, Purpose, Role, Source

FEWEST = 5
GROUPS = st.dictionaries(st.sampled_from("ABCDE"), st.frozensets(st.integers(0, 14)), max_size=5)


@pytest.mark.parametrize("about_health", [False, True])
def test_a_number_is_shown_exactly_where_the_decision_says_anonymous(about_health):
    for number in range(40):
        facts = Facts(
            act=Act.USE, purpose=Purpose.STATS, by=Role.ADMIN, count=number,
            source=Source.HEALTH if about_health else Source.OTHER,
        )  # fmt: skip
        shown = shown_number(number, about_health=about_health)
        assert (shown == number) == decide(facts).may
        assert shown in (None, number)


def sets(**sizes):
    """Groups of so many people each, nobody in two."""
    found, start = {}, 0
    for name, size in sizes.items():
        found[name] = frozenset(range(start, start + size))
        start += size
    return found


@pytest.mark.parametrize(
    ("groups", "everybody", "shown"),
    [
        ({}, None, {}),
        (sets(A=4), None, {"A": None}),
        (sets(A=5), 5, {"A": 5}),
        (sets(A=6, B=7), 13, {"A": 6, "B": 7}),
        (sets(A=4, B=7), 11, {"A": None, "B": None}),  # 11 less 7 would be the 4
        (sets(A=4, B=7, C=9), 20, {"A": None, "B": None, "C": 9}),
        (sets(A=1, B=1, C=20), 22, {"A": None, "B": None, "C": None}),  # 22 less 20 are two people
        (sets(A=4, B=4, C=20), 28, {"A": None, "B": None, "C": 20}),
        (sets(A=2, B=2, C=6, D=6), 16, {"A": None, "B": None, "C": None, "D": 6}),
        ({"A": frozenset(range(13)), "B": frozenset(range(12))}, 13, {"A": 13, "B": None}),  # one came to A alone
        ({"A": frozenset(range(20)), "B": frozenset(range(12))}, 20, {"A": 20, "B": 12}),
    ],
)
def test_small_cells_and_what_subtraction_would_tell_are_hidden(groups, everybody, shown):
    found = shown_numbers(groups)
    assert (found.everybody, found.groups) == (everybody, shown)


def test_those_of_no_group_count_among_all():
    found = shown_numbers(sets(A=6, B=7), others={90, 91})
    assert (found.everybody, found.groups) == (15, {"A": None, "B": 7})
    found = shown_numbers(sets(A=6), others={90, 91})
    assert (found.everybody, found.groups) == (8, {"A": None})


@given(GROUPS)
def test_whoever_subtracts_learns_nothing_of_fewer_than_five(groups):
    """Every sum of shown groups that have nobody in common, taken from a shown number round them, leaves 0 or 5."""
    found = shown_numbers(groups)
    everybody = frozenset().union(*groups.values())
    known = {name: groups[name] for name, number in found.groups.items() if number is not None}
    assert all(found.groups[name] == len(people) for name, people in known.items())
    assert all(len(people) >= FEWEST for people in known.values())
    whole = list(known.values()) + ([everybody] if found.everybody is not None else [])
    for name, inside in known.items():
        for round_it in whole:
            assert not (inside <= round_it and 0 < len(round_it - inside) < FEWEST), name
    if all(not (one & other) for one, other in combinations(known.values(), 2)) and found.everybody is not None:
        assert not 0 < len(everybody.difference(*known.values())) < FEWEST


@given(GROUPS)
def test_whom_nothing_gives_away_is_shown(groups):
    """Groups of five or more with nobody in common and nobody outside stay as they are."""
    apart = {name: people for name, people in groups.items() if len(people) >= FEWEST}
    if len(apart) < 2 or any(one & other for one, other in combinations(apart.values(), 2)):
        return
    assert shown_numbers(apart).groups == {name: len(people) for name, people in apart.items()}
