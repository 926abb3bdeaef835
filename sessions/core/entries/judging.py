"""Judges an entry of good shape against the record: taken away, known, in conflict, refused, or new."""

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from enum import StrEnum

from sessions.core.entries.kinds import KINDS
from sessions.core.entries.shape import Entry, Refusal


class Verdict(StrEnum):
    """What becomes of an entry that is not refused."""

    ACCEPTED = "accepted"
    KNOWN = "known"
    CONFLICT = "conflict"


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What an entry is judged against.

    `erased`: ids that were taken away. `features`: codes that the club knows, retired ones too. `roster`: person ids.
    `refused`: the code of the permission decision for each (athlete, purpose) that is not allowed.
    """

    erased: AbstractSet[str]
    features: AbstractSet[str]
    roster: AbstractSet[str]
    refused: Mapping[tuple[str, str], str]


def judge(entry: Entry, *, kept: Mapping[str, Entry], around: Surroundings) -> Verdict | Refusal:
    """The verdict on an entry, by the first rule that applies; `kept` are the entries already taken, by id."""
    if entry.id in around.erased:
        return Refusal("ERASED", None, entry.id)
    if (first := kept.get(entry.id)) is not None:
        return Verdict.KNOWN if first == entry else Verdict.CONFLICT
    feature = entry.own.get("feature")
    if feature is not None and feature not in around.features:
        return Refusal("UNKNOWN_FEATURE", "feature", entry.id)
    if entry.athlete not in around.roster:
        return Refusal("UNKNOWN_ATHLETE", "athlete", entry.id)
    code = around.refused.get((entry.athlete, KINDS[entry.kind].purpose))
    return Verdict.ACCEPTED if code is None else Refusal(code, None, entry.id)
