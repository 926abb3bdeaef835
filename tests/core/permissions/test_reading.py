"""Fact rows: what is read, what the dates give, and which fault is named by which field."""

import json
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from athletes.core.permissions import FactError, Facts, decide
from athletes.core.permissions.facts import Act, Authority, Guardian, Purpose, Role, Stance
from athletes.core.permissions.reading import read_row, read_rows
from tests.core.permissions.contract_table import DEFAULTS
from tests.sizes import examples

GOOD: dict[str, Any] = {"id": "1", "act": "use", "purpose": "health", "by": "coach"}
NOW = {"now": "2026-03-01T12:00:00Z"}
GONE = object()

FAULTS: list[tuple[str, dict[str, Any]]] = [
    ("id", {"id": GONE}),
    ("id", {"id": ""}),
    ("id", {"id": 7}),
    ("id", {"id": None}),
    ("act", {"act": GONE}),
    ("act", {"act": "look"}),
    ("act", {"act": None}),
    ("act", {"act": ["use"]}),
    ("act", {"act": GONE, "purpose": "sale"}),
    ("purpose", {"purpose": GONE}),
    ("purpose", {"purpose": GONE, "act": "keep", "days_kept": 1}),
    ("purpose", {"purpose": None}),
    ("purpose", {"purpose": "Health"}),
    ("purpose", {"purpose": "plan"}),
    ("purpose", {"purpose": "audit", "act": "answer"}),
    ("purpose", {"purpose": "audit", "act": "withdraw"}),
    ("purpose", {"purpose": "share", "act": "view_as_guardian"}),
    ("purpose", {"purpose": "attendance", "act": "view_as_guardian"}),
    ("purpose", {"purpose": "feed", "act": "erase"}),
    ("purpose", {"purpose": "backup", "act": "erase"}),
    ("purpose", {"purpose": "stats", "act": "keep", "days_kept": 1}),
    ("purpose", {"purpose": "nothing", "act": "message"}),
    ("by", {"by": GONE}),
    ("by", {"by": GONE, "act": "answer"}),
    ("by", {"by": GONE, "act": "withdraw"}),
    ("by", {"by": GONE, "act": "erase"}),
    ("by", {"by": GONE, "act": "export"}),
    ("by", {"by": GONE, "act": "withhold"}),
    ("by", {"by": GONE, "act": "answer", "purpose": "stats"}),
    ("by", {"by": GONE, "purpose": "audit"}),
    ("by", {"by": "doctor"}),
    ("by", {"by": None}),
    ("age", {"age": -1}),
    ("age", {"age": 121}),
    ("age", {"age": 12.5}),
    ("age", {"age": 12.0}),
    ("age", {"age": True}),
    ("age", {"age": "12"}),
    ("digital_age", {"digital_age": []}),
    ("digital_age", {"digital_age": 13}),
    ("digital_age", {"digital_age": None}),
    ("digital_age", {"digital_age": [13, 12]}),
    ("digital_age", {"digital_age": [19]}),
    ("digital_age", {"digital_age": [True, 13]}),
    ("digital_age", {"digital_age": [15.5]}),
    ("digital_age", {"digital_age": ["13"]}),
    ("athlete", {"athlete": "maybe"}),
    ("guardians", {"guardians": None}),
    ("guardians", {"guardians": {}}),
    ("guardians[0]", {"guardians": ["full"]}),
    ("guardians[0].stance", {"guardians": [{"stance": "assent"}]}),
    ("guardians[1].authority", {"guardians": [{}, {"authority": "some"}]}),
    ("guardians[1].name", {"guardians": [{}, {"name": "x"}]}),
    ("evidence", {"evidence": 0}),
    ("evidence", {"evidence": 3}),
    ("evidence", {"evidence": None}),
    ("named_recipient", {"named_recipient": 1}),
    ("named_recipient", {"named_recipient": None}),
    ("wording", {"wording": "other"}),
    ("expired", {"expired": "no"}),
    ("days_since_digital_age", {"days_since_digital_age": 36_501}),
    ("hour", {"hour": 24}),
    ("hour", {"hour": -1}),
    ("count", {"count": 1_000_000_001}),
    ("count", {"count": None}),
    ("days_kept", {"act": "keep"}),
    ("days_kept", {"act": "keep", "days_kept": None}),
    ("days_kept", {"days_kept": 1_000_001}),
    ("days_kept", {"days_kept": -1}),
    ("days_stopped", {"days_stopped": 1_000_001}),
    ("club_days", {"club_days": -1}),
    ("legal_hold", {"legal_hold": 0}),
    ("colour", {"colour": "blue"}),
    ("Age", {"Age": 12}),
    # the dated facts
    ("now", {"now": None}),
    ("now", {"now": "2026-03-01T12:00:00"}),
    ("now", {"now": "2026-03-01"}),
    ("now", {"now": "2026-03-01 12:00:00Z"}),
    ("now", {"now": "2026-02-30T12:00:00Z"}),
    ("now", {"now": 0}),
    ("now", {"now": "0001-01-01T00:00:00+01:00"}),
    ("zone", {**NOW, "zone": "Berlin"}),
    ("zone", {**NOW, "zone": "europe/berlin"}),
    ("zone", {**NOW, "zone": "../UTC"}),
    ("zone", {**NOW, "zone": "Europe"}),
    ("zone", {"zone": None}),
    ("zone", {"zone": ["UTC"]}),
    ("born", {**NOW, "born": "2012-2-29"}),
    ("born", {**NOW, "born": "20120229"}),
    ("born", {**NOW, "born": "2013-02-29"}),
    ("born", {**NOW, "born": "2012-W09-3"}),
    ("born", {**NOW, "born": "2026-03-02"}),
    ("born", {**NOW, "born": "1905-02-28"}),
    ("born", {**NOW, "born": "2026-03-01T00:00:00Z"}),
    ("answered", {**NOW, "born": None, "answered": 3}),
    ("answered", {**NOW, "answered": "2025-01-01"}),
    ("answered", {**NOW, "answered": None}),
    ("answered", {"answered": None}),
    ("until", {**NOW, "until": None}),
    ("until", {**NOW, "until": "2026-03-01"}),
    ("now", {"born": "2012-02-29"}),
    ("now", {"until": "2026-03-01T12:00:00Z"}),
    ("now", {"born": None, "answered": "2025-01-01"}),
    ("now", {"born": "2012-02-29", "purpose": "sale"}),
    ("hour", {**NOW, "hour": 3}),
    ("hour", {**NOW, "hour": None}),
    ("age", {**NOW, "born": "2012-02-29", "age": 14}),
    ("age", {"born": None, "age": 14}),
    ("age", {"born": None, "age": None}),
    ("days_since_digital_age", {"born": None, "answered": None, "days_since_digital_age": None}),
    ("days_since_digital_age", {**NOW, "born": None, "answered": "2025-01-01", "days_since_digital_age": 3}),
    ("turned_18_since_answer", {"born": None, "answered": None, "turned_18_since_answer": False}),
    ("expired", {**NOW, "until": "2026-03-01T12:00:00Z", "expired": False}),
]


def line(changes: dict[str, Any]) -> bytes:
    return json.dumps({field: value for field, value in (GOOD | changes).items() if value is not GONE}).encode()


@pytest.mark.parametrize(("field", "changes"), FAULTS)
def test_a_fault_is_named(field: str, changes: dict[str, Any]) -> None:
    rows, faults = read_rows(b"\n" + line({}) + b"\n" + line(changes))
    assert [row.id for row in rows] == ["1"]
    assert [(fault.line, fault.error.field) for fault in faults] == [(3, field)]
    assert str(faults[0]).startswith(f"line 3: field {field}: ")


# The contract's table of fields: the least, the most, and whether null is a value.
@pytest.mark.parametrize(
    ("field", "least", "most", "or_null"),
    [
        ("age", 0, 120, True),
        ("evidence", 1, 2, False),
        ("days_since_digital_age", 0, 36_500, True),
        ("hour", 0, 23, True),
        ("count", 0, 10**9, False),
        ("days_kept", 0, 10**6, False),
        ("days_stopped", 0, 10**6, True),
        ("club_days", 0, 10**6, True),
    ],
)
def test_numbers_end_where_the_contract_says(field: str, least: int, most: int, or_null: bool) -> None:
    tried = [least, most, least - 1, most + 1, None, str(least), least + 0.5, bool(least)]
    taken = [value for value in tried if not read_rows(line({field: value}))[1]]
    assert taken == [least, most] + [None] * or_null


@pytest.mark.parametrize(
    "text",
    [
        b"[]",
        b'"use"',
        b"null",
        b"{",
        b"{} {}",
        b"\xff",
        b"\xef\xbb\xbf{}",
        b'{"id": "1", "act": "export", "by": "admin", "age": NaN}',
        b'{"id": "1", "id": "2", "act": "export", "by": "admin"}',
        b'{"id": "1", "act": "export", "by": "admin", "guardians": [{"stance": "no", "stance": "yes"}]}',
        b"[" * 100_000,
        b'{"age": ' + b"9" * 5_000 + b"}",
    ],
)
def test_what_is_no_object_is_a_faulty_row(text: bytes) -> None:
    rows, faults = read_rows(text)
    assert rows == []
    assert [(fault.line, fault.error.field) for fault in faults] == [(1, "row")]


def test_blank_lines_are_skipped_but_counted() -> None:
    rows, faults = read_rows(b"\r\n  \t\n" + line({}) + b"\r\n\n" + line({"by": 1}) + b"\n" + line({"act": 1}))
    assert len(rows) == 1
    assert [(fault.line, fault.error.field) for fault in faults] == [(5, "by"), (6, "act")]


def test_a_line_ends_at_a_line_feed_alone() -> None:
    rows, faults = read_rows('{"id": "a\u2028b\u0085", "act": "export", "by": "admin"}'.encode())
    assert ([row.id for row in rows], faults) == (["a\u2028b\u0085"], [])


def test_a_name_that_would_break_the_line_is_written_out() -> None:
    _, faults = read_rows(line({"a\nb": 1}))
    assert str(faults[0]) == "line 1: field 'a\\nb': is not known"


@pytest.mark.parametrize("act", ["message", "export", "withhold"])
@pytest.mark.parametrize("purpose", ["plan", "stats", "backup", "audit"])
def test_an_act_that_reads_no_purpose_takes_any(act: str, purpose: str) -> None:
    with_purpose = decide(read_row(line({"act": act, "purpose": purpose, "by": "welfare"})).facts)
    assert with_purpose == decide(read_row(line({"act": act, "purpose": GONE, "by": "welfare"})).facts)


@pytest.mark.parametrize(
    "changes",
    [
        {"act": "view_as_guardian"},
        {"act": "message", "purpose": GONE},
        {"act": "keep", "days_kept": 0},
        {"purpose": "stats"},
        {"purpose": "pictures"},
        {"purpose": "pictures", "act": "keep"},
        {"purpose": "pictures", "act": "withhold"},
    ],
)
def test_who_acts_is_not_always_needed(changes: dict[str, Any]) -> None:
    assert read_row(line({"by": GONE, **changes})).facts.by is None


def test_what_is_not_said_is_as_the_contract_has_it() -> None:
    facts = read_row(line({})).facts
    said = DEFAULTS | {"purpose": "health", "by": "coach", "digital_age": (16,), "guardians": ()}
    assert {field: getattr(facts, field) for field in DEFAULTS} == said


def test_everything_said_is_read() -> None:
    said: dict[str, Any] = {
        "age": 15,
        "digital_age": [13, 16],
        "athlete": "assent",
        "guardians": [{"stance": "withdrawn", "authority": "care"}, {}],
        "evidence": 1,
        "named_recipient": False,
        "wording": "minor_change",
        "expired": True,
        "joint_rule": True,
        "us_under_13": True,
        "days_since_digital_age": 90,
        "turned_18_since_answer": True,
        "membership": "left",
        "restricted": True,
        "notice_shown": False,
        "objection": "upheld",
        "athlete_incapable": True,
        "withheld": True,
        "signed_in_as_giver": False,
        "own_case": True,
        "word_of": "guardian",
        "sender": "minor",
        "copy_to": "second_adult",
        "hour": 0,
        "emergency": True,
        "opted_out": True,
        "count": 10**9,
        "source": "health",
        "differencing": True,
        "days_kept": 10**6,
        "days_stopped": 10**6,
        "club_days": 0,
        "reason_shown": True,
        "legal_hold": True,
    }
    facts = read_row(line(said)).facts
    read = said | {
        "digital_age": (13, 16),
        "guardians": (Guardian(Stance.WITHDRAWN, Authority.CARE), Guardian(Stance.NONE, Authority.UNVERIFIED)),
    }
    assert {field: getattr(facts, field) for field in said} == read
    assert set(said) | {"purpose", "by"} == set(DEFAULTS)


# On 29 February: birthdays on 1 March in common years, as the contract says.
@pytest.mark.parametrize(
    ("dates", "given"),
    [
        ({"now": "2025-02-28T23:59:59Z", "born": "2012-02-29"}, {"age": 12, "hour": 23}),
        ({"now": "2025-03-01T00:00:00Z", "born": "2012-02-29"}, {"age": 13, "hour": 0}),
        ({"now": "2025-02-28T23:00:00Z", "zone": "Europe/Berlin", "born": "2012-02-29"}, {"age": 13, "hour": 0}),
        ({"now": "2026-03-29T03:00:00+02:00", "zone": "UTC"}, {"hour": 1, "age": None}),
        ({"now": "2026-03-01T12:00:00Z", "born": "2026-03-01"}, {"age": 0}),
        ({"now": "2026-03-01T12:00:00Z", "born": "1905-03-02"}, {"age": 120}),
        ({"now": "2026-03-01T12:00:00Z", "born": None}, {"age": None}),
        ({"born": None, "answered": None}, {"age": None, "days_since_digital_age": None, "hour": None}),
        (
            {"now": "2026-03-01T12:00:00Z", "born": "2010-03-01", "answered": "2026-02-28"},
            {"days_since_digital_age": 0, "turned_18_since_answer": False},
        ),
        (
            {"now": "2026-03-01T12:00:00Z", "born": "2010-03-01", "answered": "2026-03-01"},
            {"days_since_digital_age": None},
        ),
        (
            {"now": "2026-03-01T12:00:00Z", "born": "2010-03-02", "answered": "2020-03-01"},
            {"days_since_digital_age": None},
        ),
        (
            {"now": "2026-03-01T12:00:00Z", "born": "2010-03-01", "answered": "2020-03-01", "digital_age": [14, 13]},
            {"days_since_digital_age": 730},
        ),
        (
            {"now": "2026-03-01T12:00:00Z", "born": "2008-03-01", "answered": "2026-02-28"},
            {"days_since_digital_age": None, "turned_18_since_answer": True},
        ),
        (
            {"now": "2026-03-01T12:00:00Z", "born": "2008-03-01", "answered": "2026-03-01"},
            {"turned_18_since_answer": False},
        ),
        ({"now": "2026-03-01T12:00:00Z", "born": None, "answered": "2020-01-01"}, {"turned_18_since_answer": False}),
        ({"now": "2026-03-01T12:00:00Z", "until": "2026-03-01T13:00:00+01:00"}, {"expired": True}),
        ({"now": "2026-03-01T12:00:00Z", "until": "2026-03-01T12:00:00.000001Z"}, {"expired": False}),
        ({"now": "9999-12-31T12:00:00Z", "born": "9995-01-01", "answered": "9996-01-01"}, {"age": 4}),
    ],
)
def test_what_the_dates_give(dates: dict[str, Any], given: dict[str, Any]) -> None:
    facts = read_row(line(dates)).facts
    assert {field: getattr(facts, field) for field in given} == given


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"act": Act.USE, "by": Role.COACH}, "purpose"),
        ({"act": Act.USE, "by": Role.COACH, "purpose": Purpose.PLAN}, "purpose"),
        ({"act": Act.USE, "purpose": Purpose.HEALTH}, "by"),
        ({"act": Act.WITHHOLD}, "by"),
        ({"act": Act.KEEP, "purpose": Purpose.LOG}, "days_kept"),
    ],
)
def test_facts_that_no_decision_can_rest_on_are_refused(facts: dict[str, Any], field: str) -> None:
    with pytest.raises(FactError) as refused:
        Facts(**facts)
    assert refused.value.field == field


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
FIELDS = st.sampled_from(["id", "act", *DEFAULTS, "now", "zone", "born", "answered", "until", "other"])


@settings(max_examples=examples(20_000, one_in=40), deadline=timedelta(seconds=2))
@given(st.dictionaries(FIELDS, JSON, max_size=4))
def test_any_json_is_read_or_refused(changes: dict[str, Any]) -> None:
    """Never another error; and a field with a value of another kind is named, not guessed at."""
    rows, faults = read_rows(json.dumps(GOOD | changes).encode())
    assert len(rows) + len(faults) == 1
    for row in rows:
        assert decide(row.facts).code
