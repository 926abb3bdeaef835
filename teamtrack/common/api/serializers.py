"""Serializers that refuse unknown keys, so that nothing is taken in silence: neither in a body nor in the address."""

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.request import Request


class StrictSerializer(serializers.Serializer):
    """An input serializer: a key that it does not know is an error."""

    def to_internal_value(self, data):  # type: ignore[no-untyped-def]
        if isinstance(data, dict):
            unknown = {key: [_("There is no such field.")] for key in data if key not in self.fields}
            if unknown:
                raise serializers.ValidationError(unknown)
        return super().to_internal_value(data)


class NoKeys(StrictSerializer):
    """What an address takes that takes nothing."""


def checked(query: type[serializers.Serializer], request: Request) -> dict[str, object]:
    """What the address asks, each key once, or an answer 400 that names the key."""
    repeated = {key: [_("Ask for this once.")] for key, values in request.query_params.lists() if len(values) > 1}
    if repeated:
        raise serializers.ValidationError(repeated)
    asked = query(data=request.query_params.dict())
    asked.is_valid(raise_exception=True)
    found: dict[str, object] = asked.validated_data
    return found


def no_query(request: Request) -> None:
    """Refuse an address with any key."""
    checked(NoKeys, request)


def no_body(request: Request) -> None:
    """Refuse a body that says anything: nothing or `{}` is sent."""
    NoKeys(data=request.data).is_valid(raise_exception=True)
