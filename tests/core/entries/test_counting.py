"""What counts, by the shared table, by properties, and against a slow reading of the rules word by word."""

import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.entries.counting import Counting, Link, counting
from tests.core.entries.schedules import link_sets
from tests.core.entries.table import counting_cases
from tests.sizes import examples

ATHLETES_KINDS = {"felt", "day", "stop", "pain"}


def link(entry: dict[str, Any]) -> Link:
    keys = ("id", "kind", "athlete", "by", "replaces")
    return Link(**{key: entry[key] for key in keys}, is_withdrawal=entry["withdrawn"])


@pytest.mark.parametrize("case", counting_cases(), ids=lambda case: case["name"])
def test_shared_table(case: dict[str, Any]) -> None:
    expected = Counting(tuple(case["ids"]), tuple(tuple(group) for group in case["beside"]))
    links = [link(entry) for entry in case["entries"]]
    assert counting(links) == expected
    assert counting(reversed(links)) == expected


def works(one: Link, named: Link) -> bool:
    """Whether naming has an effect, but for rings."""
    if one.kind != named.kind:
        return False
    named_is_own = named.kind in ATHLETES_KINDS and named.by == named.athlete
    one_is_own = one.kind in ATHLETES_KINDS and one.by == one.athlete
    return one.by == named.by if named_is_own else not one_is_own


def plain_reading(links: list[Link]) -> Counting:
    """The rules again in the slowest way: walk from every entry, over and over."""
    here = {one.id: one for one in links}

    def aim(one: Link) -> str | None:
        named = here.get(one.replaces or "")
        return one.replaces if named is None or works(one, named) else None

    def walk(one: Link) -> list[str]:
        steps = [one.id]
        while (at := here.get(steps[-1])) and (to := aim(at)) and steps.count(to) < 2:
            steps.append(to)
        return steps

    in_ring = {one.id for one in links if one.id in walk(one)[1:]}

    def effect(one: Link) -> str | None:
        return None if one.id in in_ring else aim(one)

    def end(one: Link) -> str:
        to = effect(one)
        return one.id if to is None else end(here[to]) if to in here else to

    replaced = {effect(one) for one in links}
    counts = [one for one in links if not one.is_withdrawal and one.id not in replaced]
    groups = [sorted(one.id for one in counts if end(one) == last) for last in {end(one) for one in counts}]
    return Counting(
        tuple(sorted(one.id for one in counts)), tuple(sorted(tuple(group) for group in groups if len(group) > 1))
    )


@settings(max_examples=examples(10_000, one_in=50), deadline=None)
@given(links=link_sets())
def test_against_the_plain_reading(links: list[Link]) -> None:
    assert counting(links) == plain_reading(links)


@settings(max_examples=examples(10_000, one_in=50), deadline=None)
@given(links=link_sets(), seed=st.integers(0, 2**32))
def test_any_order_and_any_repeats_give_the_same(links: list[Link], seed: int) -> None:
    shaken = links + random.Random(seed).choices(links, k=5) if links else []
    random.Random(seed).shuffle(shaken)
    assert counting(shaken) == counting(links)


@settings(max_examples=examples(10_000, one_in=50), deadline=None)
@given(links=link_sets(), seed=st.integers(0, 2**32))
def test_phones_that_got_any_part_first_and_the_rest_later_agree(links: list[Link], seed: int) -> None:
    dice = random.Random(seed)
    phones: list[dict[str, Link]] = [{}, {}]
    for phone in phones:
        for one in dice.sample(links, dice.randint(0, len(links))):
            phone[one.id] = one
            assert {*counting(phone.values()).ids} <= {*phone}
        phone.update({one.id: one for one in links})
    assert counting(phones[0].values()) == counting(phones[1].values()) == counting(links)


@settings(max_examples=examples(5_000, one_in=50), deadline=None)
@given(links=link_sets())
def test_nobodys_words_vanish_unseen(links: list[Link]) -> None:
    """What does not count is a withdrawal, or an entry of the same kind names it."""
    counts = set(counting(links).ids)
    namings = {(one.replaces, one.kind) for one in links}
    for one in links:
        assert one.id in counts or one.is_withdrawal or (one.id, one.kind) in namings


@settings(max_examples=examples(5_000, one_in=50), deadline=None)
@given(links=link_sets())
def test_beside_holds_what_counts_once_and_two_at_least(links: list[Link]) -> None:
    found = counting(links)
    beside = [one for group in found.beside for one in group]
    assert len(beside) == len(set(beside))
    assert set(beside) <= set(found.ids)
    assert all(len(group) > 1 for group in found.beside)


def test_a_chain_and_a_ring_of_ten_thousand() -> None:
    def links(last: str | None) -> list[Link]:
        return [
            Link(f"{number:05}", "cue", "runner-1", "coach-1", f"{number - 1:05}" if number else last)
            for number in range(10_000)
        ]

    assert counting(links(None)) == Counting(("09999",), ())
    assert len(counting(links("09999")).ids) == 10_000
