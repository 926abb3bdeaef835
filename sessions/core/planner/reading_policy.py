"""Reading of policies and weights, whole or in part."""

from __future__ import annotations

import dataclasses
import math
from fractions import Fraction
from typing import Any

from sessions.core.planner.faults import Reader, below
from sessions.core.planner.problem import Kind, Policy, Weights

_OF_A_GROUP = (
    "separation_h",
    "sessions_per_day",
    "rest_days_per_week",
    "max_excused_share",
    "excusals_per_week",
    "fresh_after_h",
    "ideal_between_technique_h",
)
# Longer than any calendar: a separation beyond it is the same as this one.
_LONGEST_MIN = 10**10


def minutes(hours: Fraction) -> int:
    """The least whole number of minutes that is at least so many hours: elapsed minutes are whole, so
    "at least h hours" and "less than h hours" stay exact."""
    return min(math.ceil(hours * 60), _LONGEST_MIN)


def read_policy(reader: Reader, value: object, path: str, base: Policy, *, of_group: bool = False) -> Policy:
    """`base` with the fields of `value` in their place."""
    row = reader.fields(value, path, (), _OF_A_GROUP if of_group else (*_OF_A_GROUP, "travel_min"))
    if row is None:
        return base
    found: dict[str, Any] = {}
    if "separation_h" in row:
        found["separation"] = _separation(reader, row["separation_h"], below(path, "separation_h"))
    for key, least in (("sessions_per_day", 1), ("excusals_per_week", 0)):
        if key in row:
            found[key] = None if row[key] is None else reader.whole(row[key], below(path, key), least)
    if "rest_days_per_week" in row:
        found["rest_days_per_week"] = reader.whole(row["rest_days_per_week"], below(path, "rest_days_per_week"), most=7)
    if "travel_min" in row and not of_group:
        found["travel_min"] = reader.whole(row["travel_min"], below(path, "travel_min"))
    if "max_excused_share" in row:
        found["max_excused_share"] = reader.number(row["max_excused_share"], below(path, "max_excused_share"), most=1)
    for key in ("fresh_after", "ideal_between_technique"):
        if f"{key}_h" in row:
            hours = reader.number(row[f"{key}_h"], below(path, f"{key}_h"))
            found[f"{key}_min"] = None if hours is None else minutes(hours)
    missing = ("sessions_per_day", "excusals_per_week")
    return dataclasses.replace(base, **{k: v for k, v in found.items() if v is not None or k in missing})


def _separation(reader: Reader, value: object, path: str) -> dict[tuple[Kind, Kind], int]:
    table: dict[tuple[Kind, Kind], int] = {}
    rows = reader.fields(value, path, (), value if isinstance(value, dict) else ())
    for earlier, row in (rows or {}).items():
        place = below(path, earlier)
        if earlier not in set(Kind):
            reader.fault(place, f"there is no kind {earlier!a}")
        columns = reader.fields(row, place, (), row if isinstance(row, dict) else ())
        for later, value_h in (columns or {}).items():
            if later not in set(Kind):
                reader.fault(below(place, later), f"there is no kind {later!a}")
            hours = reader.number(value_h, below(place, later))
            if hours is not None and earlier in set(Kind) and later in set(Kind):
                table[Kind(earlier), Kind(later)] = minutes(hours)
    return table


def read_weights(reader: Reader, value: object, path: str) -> Weights:
    names = [field.name for field in dataclasses.fields(Weights)]
    row = reader.fields(value, path, (), names) or {}
    found = {name: reader.whole(row[name], below(path, name)) for name in names if name in row}
    return dataclasses.replace(Weights(), **{name: weight for name, weight in found.items() if weight is not None})
