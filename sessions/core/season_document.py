"""A season plan as one document of plain values, and the changes that a head coach makes to it.

{"name", "first_monday": "2027-01-04", "weeks": 40,
 "phases": [{"id", "aim", "name", "first_week", "last_week"}],            weeks counted from 1, the last one included
 "patterns": [{"id", "phase", "group", "kind", "also", "duration_min", "priority", "lanes", "observers", "order",
               "usual_weekday", "usual_from", "usual_until", "venues", "coaches", "qualified"}],
 "modifiers": [{"id", "week", "reason", "squad", "born_from", "born_until", "most_sessions"}],
 "policies": [{"id", "phase", "group", "style", "policy"}],
 "meets": [{"id", "day"}]}                                                only meets that the change moves

Every function answers a new document and leaves the given one as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum
from typing import Any

Document = dict[str, Any]
Row = dict[str, Any]
NewId = Callable[[], str]
MOST_WEEKS = 60


class Fault(StrEnum):
    """Why a season cannot be like that."""

    OUTSIDE = "outside"
    BACKWARDS = "backwards"
    SWALLOWED = "swallowed"
    OVERLAP = "overlap"
    NOT_THERE = "not_there"


class SeasonFault(ValueError):
    """A change that makes no season."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(fault.value)
        self.fault = fault


def stretched(document: Document, phase_id: str, first_week: int, last_week: int) -> Document:
    """The phase over these weeks; its neighbours give way, and those that touched it before still do.

    Raises SeasonFault for weeks outside the season, or where a neighbour would have no week left.
    """
    _check_weeks(document, first_week, last_week)
    phases = sorted(document["phases"], key=lambda row: row["first_week"])
    place = next((number for number, row in enumerate(phases) if row["id"] == phase_id), None)
    if place is None:
        raise SeasonFault(Fault.NOT_THERE)
    own = phases[place]
    rows = [dict(row) for row in phases]
    rows[place] |= {"first_week": first_week, "last_week": last_week}
    for number, row in enumerate(rows):
        if number < place:
            touched = number == place - 1 and row["last_week"] == own["first_week"] - 1
            row["last_week"] = first_week - 1 if touched else min(row["last_week"], first_week - 1)
        elif number > place:
            touched = number == place + 1 and row["first_week"] == own["last_week"] + 1
            row["first_week"] = last_week + 1 if touched else max(row["first_week"], last_week + 1)
    if any(row["last_week"] < row["first_week"] for row in rows):
        raise SeasonFault(Fault.SWALLOWED)
    return document | {"phases": rows}


def with_phase(document: Document, phase: Mapping[str, Any]) -> Document:
    """One more phase, in a gap; SeasonFault where its weeks are another's already."""
    _check_weeks(document, phase["first_week"], phase["last_week"])
    if any(
        row["first_week"] <= phase["last_week"] and phase["first_week"] <= row["last_week"]
        for row in document["phases"]
    ):
        raise SeasonFault(Fault.OVERLAP)
    rows = [*document["phases"], dict(phase)]
    return document | {"phases": sorted(rows, key=lambda row: row["first_week"])}


def split(document: Document, phase_id: str, week: int, new_id: NewId, *, aim: str) -> Document:
    """The phase ends before `week`, and a new one with the same pattern and rules takes the weeks from there on."""
    old = _row(document["phases"], phase_id)
    if not old["first_week"] < week <= old["last_week"]:
        raise SeasonFault(Fault.OUTSIDE)
    new = old | {"id": new_id(), "aim": aim, "name": "", "first_week": week}
    rows = [row | {"last_week": week - 1} if row["id"] == phase_id else row for row in document["phases"]]
    phases = sorted([*rows, new], key=lambda row: row["first_week"])
    return _with_copies(document | {"phases": phases}, phase_id, new["id"], new_id)


def without_phase(document: Document, phase_id: str) -> Document:
    """The phase and what hangs on it is taken out; its weeks have no pattern then."""
    _row(document["phases"], phase_id)
    kept = {name: [row for row in document[name] if row["phase"] != phase_id] for name in ("patterns", "policies")}
    return document | kept | {"phases": [row for row in document["phases"] if row["id"] != phase_id]}


def with_row(document: Document, name: str, row: Mapping[str, Any]) -> Document:
    """The list `name` with the row in the place of the one of the same id, or at its end."""
    rows = document[name]
    if any(one["id"] == row["id"] for one in rows):
        return document | {name: [dict(row) if one["id"] == row["id"] else one for one in rows]}
    return document | {name: [*rows, dict(row)]}


def without_row(document: Document, name: str, row_id: str) -> Document:
    """The list `name` without the row. Raises SeasonFault where it is not there."""
    _row(document[name], row_id)
    return document | {name: [row for row in document[name] if row["id"] != row_id]}


def copied(document: Document, *, name: str, first_monday: str, new_id: NewId) -> Document:
    """The same season from another Monday on: phases, patterns, rules and special weeks under new ids, no meets."""
    ids = {row["id"]: new_id() for kind in ("phases", "patterns", "policies", "modifiers") for row in document[kind]}

    def renewed(rows: Iterable[Row]) -> list[Row]:
        phase = {"phase"} & {key for row in rows for key in row}
        return [row | {"id": ids[row["id"]]} | {key: ids[row[key]] for key in phase} for row in rows]

    lists = {kind: renewed(document[kind]) for kind in ("phases", "patterns", "policies", "modifiers")}
    return document | lists | {"name": name, "first_monday": first_monday, "meets": []}


def minutes_of_week(document: Document, week: int) -> int:
    """The minutes of all sessions of the pattern in a week, each group's once; none in a gap between phases."""
    phase = next((row for row in document["phases"] if row["first_week"] <= week <= row["last_week"]), None)
    return sum(row["duration_min"] for row in document["patterns"] if phase and row["phase"] == phase["id"])


def _with_copies(document: Document, old: str, new: str, new_id: NewId) -> Document:
    """The phase's patterns and rules once more, for another phase."""
    lists = {
        name: [
            *document[name],
            *(row | {"id": new_id(), "phase": new} for row in document[name] if row["phase"] == old),
        ]
        for name in ("patterns", "policies")
    }
    return document | lists


def _row(rows: Iterable[Row], row_id: str) -> Row:
    found = next((row for row in rows if row["id"] == row_id), None)
    if found is None:
        raise SeasonFault(Fault.NOT_THERE)
    return found


def _check_weeks(document: Document, first_week: int, last_week: int) -> None:
    if last_week < first_week:
        raise SeasonFault(Fault.BACKWARDS)
    if first_week < 1 or last_week > document["weeks"]:
        raise SeasonFault(Fault.OUTSIDE)


def is_same_but_for_new_ids(one: Document, other: Document, before: Document) -> bool:
    """Whether two changes of the document `before` want the same: rows that they add have ids of their own in each."""
    return _with_new_ids_numbered(one, before) == _with_new_ids_numbered(other, before)


def _with_new_ids_numbered(document: Document, before: Document) -> Document:
    """The document with numbers in the place of ids that the one before does not have."""
    known = {row["id"] for row in _rows(before)}
    new = [row["id"] for row in _rows(document) if row["id"] not in known]
    numbers = {one: f"new {number}" for number, one in enumerate(new)}

    def numbered(value: Any) -> Any:
        if isinstance(value, list):
            return [numbered(one) for one in value]
        if isinstance(value, dict):
            return {name: numbered(one) for name, one in value.items()}
        return numbers.get(value, value) if isinstance(value, str) else value

    return {name: numbered(value) for name, value in document.items()}


def _rows(document: Document) -> list[Row]:
    return [row for table in ("phases", "patterns", "modifiers", "policies") for row in document[table]]
