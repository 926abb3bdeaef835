"""The paper twin: typed in twice, by two people, in any order; equal cells change nothing, others stand beside."""

import hashlib
import uuid
from datetime import UTC, datetime
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.entries.counting import Link, counting
from sessions.core.entries.kinds import Role
from sessions.core.entries.shape import Entry, Poster, check_entry
from sessions.core.paper import Cell, Sheet, anchor, entries_for, hashed_id, standing, typed_entry, withdrawal
from tests.sizes import examples

SESSION, ATHLETE, RONA, BRAN = (str(uuid.UUID(int=number)) for number in (1, 2, 3, 4))
SHEET = Sheet(SESSION, 101, datetime(2027, 3, 9, 17, 4, 5, 123000, tzinfo=UTC))
SHOWN = ("held", "partly", "not_yet")


def cell(stride: int, shown: str) -> Cell:
    own = {"feature": "tall_hips", "shown": shown, "type": "adjustment"}
    return Cell(f"{ATHLETE} 0 {stride}", "observation", ATHLETE, stride, own)


def link(entry: dict[str, Any], by: str) -> Link:
    return Link(entry["id"], entry["kind"], entry["athlete"], by, entry["replaces"], entry.get("withdrawn", False))


class Record:
    """What a server keeps: the first of each id, by whoever sent it first."""

    def __init__(self) -> None:
        self.links: dict[str, Link] = {}

    def type(self, cells: list[Cell], by: str) -> None:
        self.take(entries_for(SHEET, cells, list(self.links.values())), by)

    def take(self, entries: list[dict[str, Any]], by: str) -> None:
        for entry in entries:
            self.links.setdefault(entry["id"], link(entry, by))

    def stands(self, *strides: int) -> dict[str, tuple[str, ...]]:
        return standing(SHEET, [cell(stride, "held").cell for stride in strides], list(self.links.values()))


def test_an_id_is_a_hash_in_the_shape_of_version_7() -> None:
    """RFC 9562, section 5.7, by Python's own reading of a UUID; the bits by hashlib over a text written by hand."""
    made = uuid.UUID(anchor(SHEET, "cell"))
    assert (made.version, made.variant) == (7, uuid.RFC_4122)
    assert made.int >> 80 == 1804611845123  # 2027-03-09T17:04:05.123Z in ms, by GNU date
    told = f'["{SESSION}", "sheet-101", "2027-03-09T17:04:05.123Z", "cell"]'
    assert made.bytes[9:] == hashlib.sha256(told.encode()).digest()[9:16]


def test_an_entry_is_one_that_the_exchange_takes() -> None:
    raw = typed_entry(SHEET, cell(3, "partly"))
    entry = check_entry(raw, session=SESSION, poster=Poster(RONA, Role.COACH))
    assert isinstance(entry, Entry)
    assert (entry.at, entry.device) == ("2027-03-09T17:04:05.123Z", "sheet-101")
    assert entry.replaces == anchor(SHEET, f"{ATHLETE} 0 3") != entry.id
    back = check_entry(withdrawal(SHEET, link(raw, RONA)), session=SESSION, poster=Poster(RONA, Role.COACH))
    assert isinstance(back, Entry)


def test_other_sheets_cells_and_contents_have_other_ids() -> None:
    later = Sheet(SESSION, 102, SHEET.printed_at)
    ids = {
        hashed_id(SHEET, "a"),
        hashed_id(SHEET, "b"),
        hashed_id(later, "a"),
        hashed_id(SHEET, "a", {"shown": "held"}),
    }
    assert len(ids) == 4


typing = st.lists(
    st.tuples(st.sampled_from((RONA, BRAN)), st.dictionaries(st.integers(1, 4), st.sampled_from(SHOWN))), max_size=8
)


@settings(max_examples=examples(2000), deadline=None)
@given(typing, st.randoms(use_true_random=False))
def test_any_order_any_number_of_times(sheets: list[tuple[str, dict[int, str]]], chance: Any) -> None:
    """What counts in a cell is one entry for each different content ever typed there, whatever order and repeats."""
    record = Record()
    again = sheets * 2
    chance.shuffle(again)
    for by, cells in again:
        record.type([cell(stride, shown) for stride, shown in cells.items()], by)
    expected = {
        stride: {typed_entry(SHEET, cell(stride, cells[stride]))["id"] for _, cells in sheets if stride in cells}
        for stride in range(1, 5)
    }
    found = record.stands(1, 2, 3, 4)
    assert {stride: set(found.get(cell(stride, "held").cell, ())) for stride in expected} == expected
    beside = {frozenset(group) for group in counting(record.links.values()).beside}
    assert beside == {frozenset(ids) for ids in expected.values() if len(ids) > 1}


@settings(max_examples=examples(500), deadline=None)
@given(st.sampled_from(SHOWN), st.sampled_from(SHOWN), st.booleans())
def test_withdrawing_one_settles_it_for_good(one: str, other: str, is_first: bool) -> None:
    record = Record()
    record.type([cell(1, one)], RONA)
    record.type([cell(1, other)], BRAN)
    ids = record.stands(1)[cell(1, one).cell]
    if one == other:
        assert len(ids) == 1
        return
    gone, kept = ids if is_first else ids[::-1]
    record.take([withdrawal(SHEET, record.links[gone])], BRAN)
    for shown in (one, other):
        record.type([cell(1, shown)], RONA)
    assert record.stands(1) == {cell(1, one).cell: (kept,)}


def test_what_was_taken_out_can_be_typed_again_and_again() -> None:
    record = Record()
    for _ in range(3):
        record.type([cell(1, "held")], RONA)
        record.type([cell(1, "held")], BRAN)
        [standing_id] = record.stands(1)[cell(1, "held").cell]
        record.take([withdrawal(SHEET, record.links[standing_id])], RONA)
        assert record.stands(1) == {}
