"""What of a body can be read, and what is refused whole."""

import json
from decimal import Decimal

import pytest

from sessions.core.entries.posted import BodyFault, Posted, read_body

MIB = 1024 * 1024


def test_a_body_is_read() -> None:
    assert read_body(b'{"as": "coach-1", "entries": []}') == Posted("coach-1", [])
    assert read_body(b' {"entries": [1, null, {"a": 2}], "as": ""}\n') == Posted("", [1, None, {"a": 2}])


def test_numbers_are_read_as_they_were_written() -> None:
    found = read_body(b'{"as": "x", "entries": [12.340, 5, 5.0, 1e400, -0.0, 1e-7]}')
    assert isinstance(found, Posted)
    assert [str(number) for number in found.entries] == ["12.340", "5", "5.0", "1E+400", "-0.0", "1E-7"]


@pytest.mark.parametrize("written", ["9" * 5000, "1e" + "9" * 50, "-1e-" + "9" * 50, "0." + "1" * 5000])
def test_a_monstrous_number_is_read_and_left_to_be_judged(written: str) -> None:
    found = read_body(b'{"as": "x", "entries": [%s]}' % written.encode())
    assert isinstance(found, Posted)
    assert isinstance(found.entries[0], Decimal)


def test_text_beyond_the_first_plane_and_a_lone_surrogate() -> None:
    assert read_body(rb'{"as": "x", "entries": ["\ud83c\udfc3", "\ud83c"]}') == Posted("x", ["\U0001f3c3", "\ud83c"])


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"null",
        b"[]",
        b"7",
        b'"text"',
        b"{",
        b"{'as': 'x', 'entries': []}",
        b'{"as": "x"}',
        b'{"entries": []}',
        b'{"as": null, "entries": []}',
        b'{"as": 5, "entries": []}',
        b'{"as": "x", "entries": null}',
        b'{"as": "x", "entries": {}}',
        b'{"as": "x", "entries": [], "at": 1}',
        b'{"as": "x", "entries": []} {}',
        b'{"as": "x", "entries": [],}',
        b'{"as": "x", "entries": [NaN]}',
        b'{"as": "x", "entries": [Infinity]}',
        b'{"as": "x", "entries": [-Infinity]}',
        b'{"as": "x", "entries": [{"time_s": NaN}]}',
        b'{"as": "\xff", "entries": []}',
        b'{"as": "\xed\xa0\x80", "entries": []}',
        b'\xef\xbb\xbf{"as": "x", "entries": []}',
        '{"as": "x", "entries": []}'.encode("utf-16"),
        b'{"as": "x", "entries": ["a\nb"]}',
        b'{"as": "x", "entries": [01]}',
        b'{"as": "x", "entries": ' + b"[" * 100_000 + b"]" * 100_000 + b"}",
        b'{"as": "x", "entries": ' + b'[{"a":' * 100_000,
    ],
)
def test_what_cannot_be_read_is_malformed(body: bytes) -> None:
    assert read_body(body) == BodyFault.MALFORMED


def test_bytes_and_number_of_entries_are_limited() -> None:
    empty = b'{"as": "x", "entries": []}'
    assert read_body(empty.ljust(2 * MIB)) == Posted("x", [])
    assert read_body(empty.ljust(2 * MIB + 1)) == BodyFault.TOO_LARGE
    assert read_body(b"\xff" * (2 * MIB + 1)) == BodyFault.TOO_LARGE
    for number, too_large in [(500, False), (501, True)]:
        found = read_body(json.dumps({"as": "x", "entries": [None] * number}).encode())
        assert (found == BodyFault.TOO_LARGE) is too_large


def test_too_many_entries_come_before_another_key() -> None:
    assert read_body(json.dumps({"other": 1, "entries": [None] * 501}).encode()) == BodyFault.TOO_LARGE
