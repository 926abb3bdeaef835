"""Who is signed in sees pages; nobody's answers are kept by a cache; refusals become pages."""

from collections.abc import Callable

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpRequest, HttpResponse

from teamtrack.common.errors import Refused
from teamtrack.common.web.errors import refusal_page

API_PREFIX = "/api/"
FAULT = 500
"""From here on an answer tells of a fault of the server; who asked is not looked up, for the database may be away."""


class SignInRequired(LoginRequiredMiddleware):
    """Django's own, but the API answers 401 by itself instead of leading to the sign-in page."""

    def process_view(self, request, view_func, view_args, view_kwargs):  # type: ignore[no-untyped-def]
        if request.path.startswith(API_PREFIX):
            return None
        return super().process_view(request, view_func, view_args, view_kwargs)


class PrivateAnswers:
    """Answers to somebody signed in are never stored, they say whose they are; a page's refusal is a page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if response.status_code >= FAULT:
            response.setdefault("Cache-Control", "no-store")
            return response
        if not response.has_header("Cache-Control") and request.user.is_authenticated:
            response["Cache-Control"] = "no-store"
        if request.user.is_authenticated:
            response["Phone-Person"] = str(request.user.person_id)
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, Refused) and not request.path.startswith(API_PREFIX):
            return refusal_page(request, exception)
        return None
