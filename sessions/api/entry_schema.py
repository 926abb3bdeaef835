"""How the exchange of entries is described in the OpenAPI document, from the core's own table of kinds."""

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter

from sessions.core.entries.kinds import KINDS, NEVER_NULL, PURPOSES, SHARED_KEYS
from sessions.core.entries.posted import MOST_ENTRIES
from sessions.core.entries.values import Choice, Device, EntryId, Flag, Instant, Measure, Rule, Text, Whole
from teamtrack.common.api.document import refusals

Schema = dict[str, Any]
_JSON = "application/json"


def _schema_of(rule: Rule) -> Schema:
    match rule:
        case Whole():
            return {"type": "integer", "minimum": rule.low, "maximum": rule.high}
        case Measure():
            return {"type": "number", "minimum": rule.low, "maximum": rule.high}
        case Choice():
            return {"type": "string", "enum": list(rule.codes)}
        case Text():
            return {"type": "string", "minLength": 1, "maxLength": rule.limit}
        case Instant():
            return {"type": "string", "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$"}
        case EntryId():
            return {"type": "string", "format": "uuid"}
        case Device():
            return {"type": "string", "pattern": "^[a-z0-9-]{8,64}$"}
        case Flag():
            return {"type": "boolean"}
        case _:
            return {"type": "string"}


def _nullable(schema: Schema) -> Schema:
    enum = {"enum": [*schema["enum"], None]} if "enum" in schema else {}
    return schema | {"nullable": True} | enum


def _object(properties: Schema, required: list[str] | None = None) -> Schema:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties) if required is None else required,
        "additionalProperties": False,
    }


def _list(items: Schema, **more: int) -> Schema:
    return {"type": "array", "items": items, **more}


def _entry(kind_name: str, set_by_server: Schema) -> Schema:
    kind = KINDS[kind_name]
    shared = {key: _schema_of(rule) for key, rule in SHARED_KEYS.items()} | {
        "kind": {"type": "string", "enum": [kind_name]},
        "stride": {"type": "integer", "nullable": True} | (_schema_of(kind.stride) if kind.stride else {}),
        "replaces": _nullable(_schema_of(EntryId())),
    }
    own = {key: _nullable(_schema_of(rule)) for key, rule in kind.keys.items()}
    properties = shared | own | set_by_server
    posted = ["id", "kind", *sorted(NEVER_NULL)]
    return _object(properties, list(properties) if set_by_server else posted)


_STRING, _SEQ = {"type": "string"}, {"type": "integer", "minimum": 0}
_TAKEN = _object(
    {"id": {"type": "string"}, "answer": {"type": "string", "enum": ["accepted", "known", "conflict"]}, "seq": _SEQ}
)
_REFUSED = _object(
    {
        "id": _STRING | {"nullable": True},
        "answer": {"type": "string", "enum": ["refused"]},
        "code": _STRING,
        "field": _STRING | {"nullable": True},
        "detail": _STRING,
    }
)
_DROP = _object({"athlete": _STRING, "purpose": {"type": "string", "enum": list(PURPOSES)}})
_READ = {"oneOf": [_entry(name, {"by": _STRING, "seq": _SEQ}) for name in KINDS]}

SESSION = [OpenApiParameter("session_id", OpenApiTypes.UUID, OpenApiParameter.PATH)]
PAGE = [
    *SESSION,
    OpenApiParameter("after", {"type": "integer", "minimum": 0, "maximum": 2**53, "default": 0}),
    OpenApiParameter("limit", {"type": "integer", "minimum": 1, "maximum": 500, "default": 500}),
]
_SENT = {"anyOf": [*(_entry(name, {}) for name in KINDS), {"description": "Anything else is refused on its own."}]}
POSTED = {_JSON: _object({"as": _STRING, "entries": _list(_SENT, maxItems=MOST_ENTRIES)})}
ANSWERS = {(200, _JSON): _object({"answers": _list({"oneOf": [_TAKEN, _REFUSED]})})} | refusals(409, 413)
ENTRIES_PAGE = {
    (200, _JSON): _object({"items": _list(_READ), "next": _SEQ, "more": {"type": "boolean"}, "drop": _list(_DROP)})
}
COUNTING = {(200, _JSON): _object({"seq": _SEQ, "ids": _list(_STRING), "beside": _list(_list(_STRING))})}
