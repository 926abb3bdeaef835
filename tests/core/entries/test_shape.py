"""The check of one entry, by the shared table and by properties."""

import json
from dataclasses import asdict
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.entries.kinds import KINDS, PURPOSES, SHARED_KEYS, Role
from sessions.core.entries.shape import Entry, Fault, Poster, Refusal, check_entry
from sessions.core.entries.values import Measure, Whole
from tests.core.entries.table import shape_cases
from tests.sizes import examples

COACH = Poster(person="coach-1", role=Role.COACH)
RUN = {
    "id": "01957b1c-5a2e-7c3d-8e4f-0123456789ab",
    "session": "the-session",
    "kind": "run",
    "athlete": "runner-1",
    "stride": 3,
    "at": "2027-03-09T17:04:05.123Z",
    "device": "phone-0001",
}


def checked(raw: Any, session: str, poster: dict[str, str]) -> dict[str, Any]:
    found = check_entry(raw, session=session, poster=Poster(poster["person"], Role(poster["role"])))
    return {"entry": found.as_dict()} if isinstance(found, Entry) else {"refusal": asdict(found)}


def with_exact_numbers(raw: Any) -> Any:
    """The same as a reader gives it that keeps decimals as they were written."""
    if isinstance(raw, float):
        return Decimal(repr(raw))
    return {key: with_exact_numbers(value) for key, value in raw.items()} if isinstance(raw, dict) else raw


@pytest.mark.parametrize("case", shape_cases(), ids=lambda case: case["name"])
def test_shared_table(case: dict[str, Any]) -> None:
    assert checked(case["raw"], case["session"], case["poster"]) == case["expect"]
    assert checked(with_exact_numbers(case["raw"]), case["session"], case["poster"]) == case["expect"]


@pytest.mark.parametrize("case", shape_cases(), ids=lambda case: case["name"])
def test_what_is_kept_is_kept_again_unchanged(case: dict[str, Any]) -> None:
    kept = case["expect"].get("entry")
    if kept is not None:
        assert checked(kept, case["session"], case["poster"]) == {"entry": kept}


@pytest.mark.parametrize("number", [1, 12.5, 600])
def test_types_of_numbers_that_come_back(number: float) -> None:
    entry = check_entry(RUN | {"time_s": number, "steps": 5.0}, session="the-session", poster=COACH)
    assert isinstance(entry, Entry)
    assert (type(entry.own["time_s"]), type(entry.own["steps"]), type(entry.withdrawn)) == (float, int, bool)


@pytest.mark.parametrize("number", [float("nan"), float("inf"), Decimal("NaN"), Decimal("-Infinity")])
@pytest.mark.parametrize("key", ["time_s", "steps", "stride"])
def test_what_is_no_finite_number_is_refused(number: object, key: str) -> None:
    found = check_entry(RUN | {key: number}, session="the-session", poster=COACH)
    assert found == Refusal(Fault.BAD_VALUE, key, RUN["id"])


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("12.34000000000000000001", None),
        ("12.3400000000000000000", 12.34),
        ("1e-999999", None),
        ("1e999999", None),
        ("12." + "0" * 41, None),
        ("0.3000000000000000444", None),
    ],
)
def test_decimals_are_judged_as_they_were_written(written: str, kept: float | None) -> None:
    found = check_entry(RUN | {"time_s": Decimal(written)}, session="the-session", poster=COACH)
    expected = Refusal(Fault.BAD_VALUE, "time_s", RUN["id"]) if kept is None else kept
    assert (found.own["time_s"] if isinstance(found, Entry) else found) == expected


def test_a_whole_number_of_any_length_is_judged() -> None:
    for written in ("5e0", "5.000", "5"):
        assert Whole(1, 99).normal(Decimal(written)) == 5
    for written in ("1e-999999", "5.0000000000000000000001", "1e999999", "9" * 5000):
        with pytest.raises(ValueError):
            Whole(1, 99).normal(Decimal(written))


@settings(max_examples=examples(2000), deadline=None)
@given(thousandths=st.integers(100, 600_000))
def test_every_number_of_three_decimals_comes_back_equal(thousandths: int) -> None:
    written = f"{thousandths // 1000}.{thousandths % 1000:03}"
    for read in (float, Decimal):
        kept = Measure(0.1, 600, 3).normal(read(written))
        assert kept == float(written)
        assert json.loads(json.dumps(kept), parse_float=Decimal) == Decimal(written)


@settings(max_examples=examples(2000), deadline=None)
@given(number=st.floats(0.1, 600))
def test_a_finer_number_is_refused(number: float) -> None:
    if Decimal(repr(number)) % Decimal("0.001"):
        with pytest.raises(ValueError):
            Measure(0.1, 600, 3).normal(number)


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
KEYS = sorted({*SHARED_KEYS, *(key for kind in KINDS.values() for key in kind.keys), "by", "seq"})


@settings(max_examples=examples(3000), deadline=None)
@given(
    base=st.sampled_from([case["raw"] for case in shape_cases() if "entry" in case["expect"]]),
    change=st.dictionaries(st.sampled_from(KEYS), ANYTHING, max_size=3),
    role=st.sampled_from(Role),
)
def test_anything_is_either_refused_with_a_code_or_kept(base: Any, change: Any, role: Role) -> None:
    raw = base | change
    found = check_entry(raw, session="the-session", poster=Poster("runner-1", role))
    if isinstance(found, Refusal):
        assert found.code in Fault
        assert found.field is None or isinstance(found.field, str)
    else:
        assert found.as_dict().keys() == {*SHARED_KEYS, *KINDS[found.kind].keys}
        assert check_entry(found.as_dict(), session="the-session", poster=Poster("runner-1", role)) == found


def test_the_purposes_that_are_asked() -> None:
    """The purposes of the trackside contract's table."""
    assert PURPOSES == ("availability", "feedback", "health", "record")
    assert {name: kind.kept_as for name, kind in KINDS.items()} == {
        "run": "log",
        "felt": "log",
        "day": "log",
        "presence": "attendance",
        "observation": "feedback",
        "cue": "feedback",
        "own_view": "feedback",
        "pain": "health",
        "stop": "availability",
    }
