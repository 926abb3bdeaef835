"""What changed between two wordings: both texts come back whole, and the marks are those of the standard tool."""

import difflib
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.core.wording_changes import changes

TEXTS = st.text(alphabet="ab .,\n’é-", max_size=40)


def joined(pieces):
    return "".join(piece.text for piece in pieces)


def same(pieces):
    return "".join(piece.text for piece in pieces if not piece.is_changed)


@given(TEXTS, TEXTS)
def test_nothing_is_lost_and_what_is_not_marked_is_in_both(before, now):
    left, right = changes(before, now)
    assert (joined(left), joined(right)) == (before, now)
    assert same(left) == same(right)
    assert any(piece.is_changed for piece in left + right) == (before != now)


@given(TEXTS, TEXTS)
def test_the_marks_are_those_of_ndiff(before, now):
    """Python's own line comparison, one word a line: what it calls taken out or new is what is marked."""
    split = re.compile(r"\w+|\s+|[^\w\s]")
    told = list(difflib.ndiff(split.findall(before), split.findall(now), linejunk=None, charjunk=None))
    left, right = changes(before, now)
    assert len(joined(p for p in left if p.is_changed)) == sum(len(one) - 2 for one in told if one[0] == "-")
    assert len(joined(p for p in right if p.is_changed)) == sum(len(one) - 2 for one in told if one[0] == "+")


@pytest.mark.parametrize(
    ("before", "now", "gone", "new"),
    [
        ("May coaches see it?", "May coaches see it?", [], []),
        ("May coaches see it?", "May all coaches see it?", [], [" all"]),
        ("Kept for a year.", "Kept for a year", ["."], []),
        ("Kept for 12 months.", "Kept for 6 months.", ["12"], ["6"]),
        ("", "New.", [], ["New."]),
    ],
)
def test_single_words_are_marked(before, now, gone, new):
    left, right = changes(before, now)
    assert [piece.text for piece in left if piece.is_changed] == gone
    assert [piece.text for piece in right if piece.is_changed] == new
