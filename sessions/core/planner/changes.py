"""Single changes to a problem document: what they are, and how each is made."""

from __future__ import annotations

import copy
from datetime import datetime
from typing import Any

from sessions.core.planner.local_time import day_name, read_instant
from sessions.core.planner.problem import DEFAULT_SEPARATION_H, Problem

Document = dict[str, Any]
Change = dict[str, Any]


def changed(document: Document, change: Change) -> Document:
    """A copy of the document with the one change made."""
    new = copy.deepcopy(document)
    ((verb, what),) = change.items()
    _MAKERS[verb](new, what)
    return new


def _row(document: Document, name: str, key: str) -> dict[str, Any]:
    found: dict[str, Any] = next(row for row in document[name] if row["id"] == key)
    return found


def _span(what: dict[str, Any]) -> dict[str, Any]:
    return {"start": what["start"], "end": what["end"]}


def _add_window(document: Document, what: Any) -> None:
    _row(document, "demands", what["demand"])["windows"].append(_span(what))


def _add_available(document: Document, what: Any) -> None:
    _row(document, "coaches", what["coach"])["available"].append(_span(what))


def _add_open(document: Document, what: Any) -> None:
    _row(document, "venues", what["venue"])["open"].append(_span(what))


def _move_fixed(document: Document, what: Any) -> None:
    """The item keeps its length."""
    row = _row(document, "fixed", what["id"])
    shift = datetime.fromisoformat(what["start"]) - datetime.fromisoformat(row["start"])
    row["end"] = (datetime.fromisoformat(row["end"]) + shift).isoformat(timespec="minutes")
    row["start"] = what["start"]


def _set_demand(document: Document, what: Any) -> None:
    _row(document, "demands", what["id"])[what["field"]] = what["to"]


def _set_policy(document: Document, what: Any) -> None:
    path = what["path"].split(".")
    whole = document.setdefault("policy", {})
    owner = _row(document, "groups", what["group"]).setdefault("policy", {}) if "group" in what else whole
    if path[0] == "separation_h":
        table = owner.get("separation_h", whole.get("separation_h", DEFAULT_SEPARATION_H))
        owner["separation_h"] = {earlier: dict(row) for earlier, row in table.items()}
        owner["separation_h"].setdefault(path[1], {})[path[2]] = what["to"]
    else:
        owner[path[0]] = what["to"]


def _drop_fixed(document: Document, what: Any) -> None:
    document["fixed"] = [row for row in document["fixed"] if row["id"] != what]


_MAKERS = {
    "add_window": _add_window,
    "add_available": _add_available,
    "add_open": _add_open,
    "move_fixed": _move_fixed,
    "set_demand": _set_demand,
    "set_policy": _set_policy,
    "drop_fixed": _drop_fixed,
}


def sentence(problem: Problem, change: Change) -> str:
    """The change in plain words."""
    ((verb, what),) = change.items()
    if verb == "drop_fixed":
        return f"It has a place without {what}."
    if verb == "set_demand":
        return _FIELDS[what["field"]].format(**what, **_counted(what["to"]))
    if verb == "set_policy":
        return f"It has a place if {_policy_words(what)}."
    start, end = (read_instant(what[name]) if name in what else None for name in ("start", "end"))
    assert start is not None
    times = f"{_when(problem, start)}" if end is None else _span_words(problem, start, end)
    return _PLACES[verb].format(**what, times=times)


_PLACES = {
    "add_window": "It has a place if {demand} may also lie {times}.",
    "add_available": "It has a place if {coach} is also available {times}.",
    "add_open": "It has a place if {venue} is also open {times}.",
    "move_fixed": "It has a place if {id} moves to {times}.",
}
_FIELDS = {
    "duration_min": "It has a place if {id} takes {to} minute{s}.",
    "observers": "It has a place if {to} coach{es} lead{one} {id}.",
    "lanes": "It has a place if {id} uses {to} lane{s}.",
}
_LIMITS = {
    "sessions_per_day": "{to} session{s} a day",
    "rest_days_per_week": "{to} rest day{s} a week",
    "excusals_per_week": "{to} excusal{s} of one athlete a week",
    "travel_min": "{to} minute{s} between venues",
}


def _counted(number: float) -> dict[str, str]:
    return {"s": "", "es": "", "one": "s"} if number == 1 else {"s": "s", "es": "es", "one": ""}


def _policy_words(what: Change) -> str:
    """The eased rule in words."""
    who = f"the rule of {what['group']}" if "group" in what else "the general rule"
    path, to = what["path"], what["to"]
    if path.startswith("separation_h."):
        _, earlier, later = path.split(".")
        return f"{who} asks for {to:g} h only between {_kind(earlier)} and {_kind(later)}"
    if path == "max_excused_share":
        return f"{who} lets {100 * to:g} % of the athletes be excused"
    return f"{who} becomes {_LIMITS[path].format(to=to, **_counted(to))}"


def _kind(name: str) -> str:
    return name if name == "meet" else f"{name} session"


def _when(problem: Problem, start: int) -> str:
    return f"{day_name(problem.local.date(start))} at {problem.local.text(start)[11:16]}"


def _span_words(problem: Problem, start: int, end: int) -> str:
    """A span of one date with its times; a longer one with both days."""
    first, last = problem.local.date(start), problem.local.date(end - 1)
    till = problem.local.text(end)[11:16]
    if first == last:
        return f"on {day_name(first)} from {problem.local.text(start)[11:16]} to {till if till != '00:00' else '24:00'}"
    return f"from {_when(problem, start)} to {_when(problem, end)}"
