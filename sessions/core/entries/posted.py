"""Reads the body of an exchange: who it is sent as and the entries in it, or why it cannot be read."""

import json
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import NoReturn

MOST_BYTES = 2 * 1024 * 1024
MOST_ENTRIES = 500
_LONGEST_INT = 30


class BodyFault(StrEnum):
    """Why nothing of a body was taken, in the order in which the reasons are looked for."""

    TOO_LARGE = "TOO_LARGE"
    MALFORMED = "MALFORMED"


@dataclass(frozen=True, slots=True)
class Posted:
    """A body that could be read; the entries are not judged yet."""

    sent_as: str
    entries: list[object]


def read_body(body: bytes) -> Posted | BodyFault:
    """Read a body of JSON in UTF-8 (RFC 8259): `as` and `entries` and no other key, 500 entries and 2 MiB at most.

    Numbers with decimals come as Decimal, just as they were written.
    """
    if len(body) > MOST_BYTES:
        return BodyFault.TOO_LARGE
    try:
        read = json.loads(
            body.decode("utf-8"), parse_float=_exact, parse_int=_whole, parse_constant=_refuse_what_json_has_not
        )
    except (ValueError, RecursionError):
        return BodyFault.MALFORMED
    if isinstance(read, dict) and isinstance(entries := read.get("entries"), list):
        if len(entries) > MOST_ENTRIES:
            return BodyFault.TOO_LARGE
        sent_as = read.get("as")
        if read.keys() == {"as", "entries"} and isinstance(sent_as, str):
            return Posted(sent_as, entries)
    return BodyFault.MALFORMED


def _exact(written: str) -> Decimal:
    try:
        return Decimal(written)
    except InvalidOperation:
        return Decimal("Infinity")


def _whole(written: str) -> int | Decimal:
    """Numbers too long for any rule stay exact without the work of reading them as an int."""
    return int(written) if len(written) <= _LONGEST_INT else Decimal(written)


def _refuse_what_json_has_not(name: str) -> NoReturn:
    raise ValueError(name)
