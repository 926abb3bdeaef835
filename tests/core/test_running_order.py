"""Who runs next: the shared table of cases (the page's own order runs it too), and what always holds."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.running.order import Runner, running_order
from tests.sizes import examples

CASES: list[dict[str, Any]] = json.loads((Path(__file__).parent / "running_order_cases.json").read_text())
"""Common practice, no source: the overlooked first, then the longest rested."""


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_shared_table(case: dict[str, Any]) -> None:
    order = running_order(Runner(**runner) for runner in case["runners"])
    assert [[place.id, place.wait_s] for place in order] == case["order"]


runners = st.builds(
    Runner,
    id=st.uuids().map(str),
    looks_last_time=st.integers(0, 15),
    rested_s=st.none() | st.floats(0, 3600),
    wants_rest_s=st.integers(0, 600),
    strides_done=st.integers(0, 12),
    strides_wanted=st.integers(1, 12),
)


@settings(max_examples=examples(1000), deadline=None)
@given(st.lists(runners, max_size=40, unique_by=lambda runner: runner.id))
def test_what_always_holds(people: list[Runner]) -> None:
    order = running_order(people)
    known = {runner.id: runner for runner in people}
    assert {place.id for place in order} == {runner.id for runner in people if not runner.is_done}
    rests = [known[place.id].rested_s for place in order]
    fresh = [rest for rest in rests if rest is None]
    rested = [rest for rest in rests if rest is not None]
    assert rests == fresh + sorted(rested, reverse=True)
    for place in order:
        runner = known[place.id]
        assert place.wait_s >= 0
        assert (place.wait_s == 0) == (runner.rested_s is None or runner.rested_s >= runner.wants_rest_s)


@settings(max_examples=examples(300), deadline=None)
@given(st.lists(runners, max_size=20, unique_by=lambda runner: runner.id), st.floats(0, 600))
def test_waiting_together_changes_no_order_of_those_who_ran(people: list[Runner], waited_s: float) -> None:
    ran = [runner for runner in people if runner.rested_s is not None]
    later = [
        Runner(
            runner.id,
            runner.looks_last_time,
            (runner.rested_s or 0) + waited_s,
            runner.wants_rest_s,
            runner.strides_done,
            runner.strides_wanted,
        )
        for runner in ran
    ]
    longest_first = [(place.id, place.wait_s) for place in running_order(ran)]
    after = {place.id: place.wait_s for place in running_order(later)}
    assert all(after[runner_id] <= wait_s for runner_id, wait_s in longest_first)
