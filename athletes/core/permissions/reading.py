"""Fact rows: lines of JSON become facts, or an error that names the line and the field."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from athletes.core import ages
from athletes.core.permissions.facts import (
    DIGITAL_AGE_WHEN_UNSAID,
    Act,
    Authority,
    CopyTo,
    FactError,
    Facts,
    Guardian,
    Membership,
    Objection,
    Purpose,
    Role,
    Sender,
    Source,
    Stance,
    Wording,
    WordOf,
)

Reader = Callable[[str, Any], Any]
"""Takes a field's name and its value from JSON; gives the fact, or raises FactError."""

OLDEST = 120
_ROW = "row"


@dataclass(frozen=True, slots=True)
class Row:
    """One question: its name, repeated in the answer, and its facts."""

    id: str
    facts: Facts


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong in a line, counted from 1."""

    line: int
    error: FactError

    def __str__(self) -> str:
        return f"line {self.line}: {self.error}"


def read_rows(text: bytes) -> tuple[list[Row], list[Fault]]:
    """All questions of a file of JSON lines in UTF-8, and the first fault of each line that is none.

    Blank lines are skipped but counted.
    """
    rows: list[Row] = []
    faults: list[Fault] = []
    for number, line in enumerate(text.split(b"\n"), start=1):
        if not line.strip():
            continue
        try:
            rows.append(read_row(line))
        except FactError as error:
            faults.append(Fault(number, error))
    return rows, faults


def read_row(line: bytes) -> Row:
    """The question in one line; raises FactError."""
    values = _json_object(line)
    name = _text("id", _needed(values, "id"))
    return Row(name, read_facts({field: value for field, value in values.items() if field != "id"}))


def read_facts(values: dict[str, Any]) -> Facts:
    """The facts that JSON values state, without the row's name; raises FactError."""
    _needed(values, "act")
    return Facts(**_without_dates(_known_values(values, _FIELDS)))


def _needed(values: dict[str, Any], field: str) -> Any:
    if field not in values:
        raise FactError(field, "is missing")
    return values[field]


def _json_object(line: bytes) -> dict[str, Any]:
    try:
        row = json.loads(line.decode(), object_pairs_hook=_each_once, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise FactError(_ROW, "is no JSON object in UTF-8 that names each field once") from error
    if not isinstance(row, dict):
        raise FactError(_ROW, "is no JSON object")
    return row


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A fact that stands twice is none."""
    values = dict(pairs)
    if len(values) < len(pairs):
        raise ValueError
    return values


def _no_number(constant: str) -> None:
    """NaN and Infinity are no JSON."""
    raise ValueError(constant)


def _known_values(values: dict[str, Any], fields: dict[str, Reader], prefix: str = "") -> dict[str, Any]:
    known = {}
    for name, value in values.items():
        if name not in fields:
            raise FactError(prefix + _printable(name), "is not known")
        known[name] = fields[name](prefix + name, value)
    return known


def _printable(name: str) -> str:
    return name if name.isprintable() else repr(name)


# Dated facts


_DATED_FOR_PLAIN = {
    "hour": "now",
    "age": "born",
    "days_since_digital_age": "answered",
    "turned_18_since_answer": "answered",
    "expired": "until",
}


def _without_dates(values: dict[str, Any]) -> dict[str, Any]:
    """The dated facts turned into the plain ones that they give, on the day and hour of `now` in the club's zone."""
    for plain, dated in _DATED_FOR_PLAIN.items():
        if plain in values and dated in values:
            raise FactError(plain, f"stands beside {dated}, which gives it")
    if "answered" in values and "born" not in values:
        raise FactError("answered", "needs born beside it")
    plain_values = {name: value for name, value in values.items() if name not in _DATED_FIELDS}
    now: datetime | None = values.get("now")
    if now is not None:
        return plain_values | _dated(values, now)
    if any(values.get(name) is not None for name in ("born", "answered", "until")):
        raise FactError("now", "is missing")
    return plain_values


def _dated(values: dict[str, Any], now: datetime) -> dict[str, Any]:
    local = _local(now, values.get("zone", ZoneInfo("UTC")))
    given: dict[str, Any] = {"hour": local.hour}
    if "born" in values:
        given["age"] = _age(values["born"], local.date())
    if "answered" in values:
        digital_age = ages.highest_digital_age(values.get("digital_age", DIGITAL_AGE_WHEN_UNSAID))
        come = ages.coming_of_age(values["born"], values["answered"], digital_age, local.date())
        given["days_since_digital_age"] = come.days_since_digital_age
        given["turned_18_since_answer"] = come.turned_18_since_answer
    if "until" in values:
        given["expired"] = now >= values["until"]
    return given


def _local(now: datetime, zone: ZoneInfo) -> datetime:
    try:
        return now.astimezone(zone)
    except OverflowError as error:
        raise FactError("now", "lies outside the calendar") from error


def _age(born: date | None, today: date) -> int | None:
    if born is None:
        return None
    age = ages.age_on(born, today)
    if not 0 <= age <= OLDEST:
        raise FactError("born", f"gives an age outside 0 to {OLDEST}")
    return age


# Readers of single values


def _one_of(choices: type[StrEnum], *, but: tuple[StrEnum, ...] = ()) -> Reader:
    known = {choice.value: choice for choice in choices if choice not in but}

    def read(field: str, value: Any) -> StrEnum:
        if not isinstance(value, str) or value not in known:
            raise FactError(field, f"is not one of {', '.join(known)}")
        return known[value]

    return read


def _whole(lowest: int, highest: int, *, or_null: bool = False) -> Reader:
    def read(field: str, value: Any) -> int | None:
        if value is None and or_null:
            return None
        if type(value) is not int or not lowest <= value <= highest:
            raise FactError(field, f"is no whole number from {lowest} to {highest}{' or null' if or_null else ''}")
        return value

    return read


def _truth(field: str, value: Any) -> bool:
    if not isinstance(value, bool):
        raise FactError(field, "is neither true nor false")
    return value


def _text(field: str, value: Any) -> str:
    if not isinstance(value, str) or not value:
        raise FactError(field, "is no text, or empty")
    return value


def _digital_ages(field: str, value: Any) -> tuple[int, ...]:
    if not isinstance(value, list) or not value or any(type(age) is not int or not 13 <= age <= 18 for age in value):
        raise FactError(field, "is no list, not empty, of whole numbers from 13 to 18")
    return tuple(value)


def _guardians(field: str, value: Any) -> tuple[Guardian, ...]:
    if not isinstance(value, list):
        raise FactError(field, "is no list")
    return tuple(_guardian(f"{field}[{place}]", guardian) for place, guardian in enumerate(value))


def _guardian(field: str, value: Any) -> Guardian:
    if not isinstance(value, dict):
        raise FactError(field, "is no JSON object")
    return Guardian(**_known_values(value, _GUARDIAN_FIELDS, f"{field}."))


def _instant(field: str, value: Any) -> datetime:
    """ISO 8601 with offset: the T between date and time is part of it."""
    try:
        instant = datetime.fromisoformat(value) if "T" in value else None
    except (TypeError, ValueError):
        instant = None
    if instant is None or instant.tzinfo is None:
        raise FactError(field, "is no instant with offset, as 2026-03-29T06:00:00Z")
    return instant


def _day_or_null(field: str, value: Any) -> date | None:
    if value is None:
        return None
    try:
        day = date.fromisoformat(value)
    except (TypeError, ValueError):
        day = None
    if day is None or day.isoformat() != value:
        raise FactError(field, "is no date as 2012-02-29, nor null")
    return day


def _zone(field: str, value: Any) -> ZoneInfo:
    if not isinstance(value, str) or value not in _zone_names():
        raise FactError(field, "is no time zone of the IANA database, as Europe/Berlin")
    return ZoneInfo(value)


@cache
def _zone_names() -> frozenset[str]:
    return frozenset(available_timezones())


_DATED_FIELDS: dict[str, Reader] = {
    "now": _instant,
    "zone": _zone,
    "born": _day_or_null,
    "answered": _day_or_null,
    "until": _instant,
}
_GUARDIAN_FIELDS: dict[str, Reader] = {
    "stance": _one_of(Stance, but=(Stance.ASSENT,)),
    "authority": _one_of(Authority),
}
_FIELDS: dict[str, Reader] = {
    "act": _one_of(Act),
    "purpose": _one_of(Purpose),
    "by": _one_of(Role),
    "age": _whole(0, OLDEST, or_null=True),
    "digital_age": _digital_ages,
    "athlete": _one_of(Stance),
    "guardians": _guardians,
    "evidence": _whole(1, 2),
    "named_recipient": _truth,
    "wording": _one_of(Wording),
    "expired": _truth,
    "joint_rule": _truth,
    "us_under_13": _truth,
    "days_since_digital_age": _whole(0, 36_500, or_null=True),
    "turned_18_since_answer": _truth,
    "membership": _one_of(Membership),
    "restricted": _truth,
    "notice_shown": _truth,
    "objection": _one_of(Objection),
    "athlete_incapable": _truth,
    "withheld": _truth,
    "signed_in_as_giver": _truth,
    "own_case": _truth,
    "word_of": _one_of(WordOf),
    "sender": _one_of(Sender),
    "copy_to": _one_of(CopyTo),
    "hour": _whole(0, 23, or_null=True),
    "emergency": _truth,
    "opted_out": _truth,
    "count": _whole(0, 10**9),
    "source": _one_of(Source),
    "differencing": _truth,
    "days_kept": _whole(0, 10**6),
    "days_stopped": _whole(0, 10**6, or_null=True),
    "club_days": _whole(0, 10**6, or_null=True),
    "reason_shown": _truth,
    "legal_hold": _truth,
} | _DATED_FIELDS
