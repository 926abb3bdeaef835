"""The access log's hash chain: SHA-256 over the previous hash and canonical JSON of the entry."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

GENESIS = "0" * 64
WITNESS_DIGITS = 16
"""Hexadecimal digits of each entry's hash that a signed head repeats: enough to name the entry that was changed."""

LogEntry = tuple[int, str, str, Mapping[str, object]]
"""An entry as (seq, prev_hash, hash, content)."""


@dataclass(frozen=True)
class ChainFault:
    """The first place at which a chain is not whole.

    `reason` is one of `gap`, `prev_hash`, `hash`, `tail`, `signed` (another entry than the one that was signed) and
    `signature` (a signed head that was not signed with the club server's key).
    """

    seq: int
    reason: str


def entry_hash(prev_hash: str, content: Mapping[str, object]) -> str:
    """Hash of one entry as 64 hexadecimal digits.

    `content` holds text, whole numbers and lists of text alone, so that sorted keys without white space are the
    canonical form of RFC 8785.
    """
    return hashlib.sha256(prev_hash.encode() + canonical(content)).hexdigest()


def canonical(content: Mapping[str, object]) -> bytes:
    """Canonical JSON (RFC 8785) of text, whole numbers and lists of text."""
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def witness_of(hashes: Iterable[str]) -> str:
    """The first digits of each hash, one after the other."""
    return "".join(one[:WITNESS_DIGITS] for one in hashes)


def witnessed(after: int, witness: str) -> Iterator[tuple[int, str]]:
    """The entries that a signed head vouches for, as (seq, first digits of the hash); they follow the seq `after`."""
    for place in range(len(witness) // WITNESS_DIGITS):
        yield after + place + 1, witness[place * WITNESS_DIGITS : (place + 1) * WITNESS_DIGITS]


def first_fault(
    entries: Iterable[LogEntry],
    *,
    head_seq: int,
    head_hash: str,
    signed: Iterable[tuple[int, str]] = (),
    start: tuple[int, str] = (0, GENESIS),
) -> ChainFault | None:
    """The first fault of a chain given in order, or None where it is whole; memory does not grow with it.

    The head tells a cut tail. `signed` (as `witnessed` gives it, in order) tells what the chain alone cannot: a rewrite
    of entries and head together, up to the last signed head. `start` is the seq and hash before the first entry.
    """
    last_seq, last_hash = start
    vouched = iter(signed)
    expected = next(vouched, None)
    for seq, prev_hash, stored_hash, content in entries:
        reason = _fault_of(seq, prev_hash, stored_hash, content, last_seq, last_hash)
        if reason is not None:
            return ChainFault(last_seq + 1 if reason == "gap" else seq, reason)
        if expected is not None and expected[0] == seq:
            if not stored_hash.startswith(expected[1]):
                return ChainFault(seq, "signed")
            expected = next(vouched, None)
        last_seq, last_hash = seq, stored_hash
    if expected is not None or (last_seq, last_hash) != (head_seq, head_hash):
        return ChainFault(last_seq + 1, "tail")
    return None


def _fault_of(
    seq: int, prev_hash: str, stored_hash: str, content: Mapping[str, object], last_seq: int, last_hash: str
) -> str | None:
    if seq != last_seq + 1:
        return "gap"
    if prev_hash != last_hash:
        return "prev_hash"
    return None if entry_hash(prev_hash, content) == stored_hash else "hash"
