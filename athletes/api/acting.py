"""In which of the roles held somebody asks: the one key that most addresses of the API take."""

from rest_framework import serializers
from rest_framework.request import Request

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from teamtrack.common.api.serializers import StrictSerializer, checked


class ActingAs(StrictSerializer):
    """In which of the roles held the person asks; the first of them if not said."""

    def get_fields(self) -> dict[str, serializers.Field]:
        return super().get_fields() | {"as": serializers.ChoiceField(choices=Role.choices, required=False)}


def viewer_asked(request: Request) -> Viewer:
    """Whoever asks, in the role that the address names; an address with another key is refused."""
    role = checked(ActingAs, request).get("as")
    return viewer_of(request._request, None if role is None else str(role))
