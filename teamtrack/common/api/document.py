"""What the OpenAPI document says of every address alike: unknown keys are refused, and which errors may come."""

from typing import Any

from drf_spectacular.extensions import OpenApiSerializerExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from rest_framework.permissions import SAFE_METHODS, IsAuthenticated

Schema = dict[str, Any]
ERROR = {"$ref": "#/components/schemas/Error"}
_JSON = "application/json"
_ERROR_SHAPE = {
    "type": "object",
    "description": "Every error: a code for programs, one sentence for people, and sentences by field.",
    "properties": {
        "code": {"type": "string"},
        "detail": {"type": "string"},
        "fields": {"type": "object", "additionalProperties": {"type": "array", "items": {"type": "string"}}},
    },
    "required": ["code", "detail", "fields"],
    "additionalProperties": False,
}
_ERROR_COMPONENT = ResolvedComponent("Error", ResolvedComponent.SCHEMA, _ERROR_SHAPE, "Error")
_WORDS = {
    400: "Something sent is not right; `fields` says what. Nothing was changed.",
    401: "Sign in first.",
    403: "Not allowed, the origin token is missing, or a second factor is due first.",
    404: "Not there, or not yours: the two answer alike.",
    406: "The API answers in JSON alone.",
    409: "Somebody was faster, or it was done before. Nothing was changed.",
    413: "Too much at once: send half of it. Nothing was changed.",
    415: "The API takes JSON alone.",
    429: "Too much at once: send the same again after `Retry-After` seconds. Nothing was changed.",
    503: "The server is busy: send the same again after `Retry-After` seconds. Nothing was changed.",
}
_WAITS = {429, 503}


class StrictKeys(OpenApiSerializerExtension):
    """What a strict serializer takes has no other key."""

    target_class = "teamtrack.common.api.serializers.StrictSerializer"
    match_subclasses = True

    def map_serializer(self, auto_schema: Any, direction: Any) -> Schema:
        schema: Schema = auto_schema._map_serializer(self.target, direction, bypass_extensions=True)
        return schema | {"additionalProperties": False}


def refusals(*statuses: int) -> dict[tuple[int, str], Schema]:
    """Errors that an address may answer besides those that `Described` reads off its view."""
    return {(status, _JSON): ERROR for status in statuses}


class Described(AutoSchema):
    """An address as its view is, with every error that may come and no other."""

    def get_operation(self, *args: Any, **kwargs: Any) -> Schema | None:
        operation: Schema | None = super().get_operation(*args, **kwargs)
        if operation is not None:
            self.registry.register_on_missing(_ERROR_COMPONENT)
            told = operation["responses"]
            said = {int(status) for status in told} & set(_WORDS)
            errors = {str(status): _error(status) for status in said | self._may_come()}
            operation["responses"] = dict(sorted((told | errors).items()))
        return operation

    def _may_come(self) -> set[int]:
        """An unknown key, a second factor that is due and a busy server meet every address."""
        may_come = {400, 403, 503}
        if self.method not in SAFE_METHODS:
            may_come.add(415)
        if not getattr(self.view, "answers_any_accept", False):
            may_come.add(406)
        if IsAuthenticated in self.view.permission_classes:
            may_come |= {401, 404, 429}
        return may_come - getattr(self.view, "never_answers", set())


def close_shapes(result: Schema, **_: object) -> Schema:
    """Say of every shape with named keys that it has no other (a hook of the document's maker)."""
    for shape in result["components"]["schemas"].values():
        if "properties" in shape:
            shape.setdefault("additionalProperties", False)
    return result


def _error(status: int) -> Schema:
    content = {"description": _WORDS[status], "content": {_JSON: {"schema": ERROR}}}
    wait = {"Retry-After": {"description": "Seconds to wait.", "schema": {"type": "integer"}, "required": True}}
    return content | ({"headers": wait} if status in _WAITS else {})
