"""Signing in to the API is the browser session's; every unsafe request carries its token, signed in or not."""

from typing import Any

from django.conf import settings
from django.http import QueryDict
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import SessionAuthentication
from rest_framework.request import Request


class BrowserSession(SessionAuthentication):
    """Django's session cookie; without it the answer is 401, not 403."""

    def authenticate_header(self, request: Request) -> str:
        return "Session"

    def enforce_csrf(self, request: Request) -> None:
        """The token stands in the header: a body is not read for it, whatever it claims to be."""
        request._request.POST = QueryDict()
        super().enforce_csrf(request._request)


class BrowserSessionScheme(OpenApiAuthenticationExtension):
    """How the OpenAPI document tells of it."""

    target_class = BrowserSession
    name = "browserSession"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "apiKey",
            "in": "cookie",
            "name": settings.SESSION_COOKIE_NAME,
            "description": "Unsafe requests also carry the value of the token cookie in the header X-CSRFToken.",
        }
