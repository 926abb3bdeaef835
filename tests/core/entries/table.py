"""The shared table of cases, read once for the tests of both twins."""

import json
from pathlib import Path
from typing import Any

_TABLE = json.loads((Path(__file__).parent / "cases.json").read_text())


def shape_cases() -> list[dict[str, Any]]:
    """Each with `name`, `session`, `poster`, what is posted (`raw`) and what must come of it (`expect`)."""
    return [
        {
            "name": case["name"],
            "session": _TABLE["session"],
            "poster": case.get("poster", _TABLE["poster"]),
            "raw": _posted(case),
            "expect": _expected(case),
        }
        for case in _TABLE["shape"]
    ]


def counting_cases() -> list[dict[str, Any]]:
    """Each with `name`, `entries` and what counts of them (`ids`, `beside`)."""
    return [{**case, "entries": [_TABLE["link"] | entry for entry in case["entries"]]} for case in _TABLE["counting"]]


def _posted(case: dict[str, Any]) -> Any:
    if "raw" in case:
        return case["raw"]
    entry = _TABLE["bases"][case["base"]] | _written_out(case.get("change", {}))
    return {key: value for key, value in entry.items() if key not in case.get("omit", ())}


def _expected(case: dict[str, Any]) -> dict[str, Any]:
    if "refused" in case:
        posted = _posted(case)
        return {"refusal": {"id": posted.get("id") if isinstance(posted, dict) else None, **case["refused"]}}
    return {"entry": _TABLE["bases"][case["base"]] | _written_out(case["kept"])}


def _written_out(change: dict[str, Any]) -> dict[str, Any]:
    return {key: _repeated(value) for key, value in change.items()}


def _repeated(value: Any) -> Any:
    if isinstance(value, dict) and set(value) == {"repeat"}:
        text, times = value["repeat"]
        return text * times
    return value
