"""How long a sign-in lasts, asked at every request; and the second factor where it cannot be put off any more."""

from typing import Any

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from athletes.services.sign_ins import life_of, mark_seen
from teamtrack.common.clock import today_in
from teamtrack.common.middleware import API_PREFIX
from teamtrack.common.web.errors import BUSY_FAULTS, server_fault

WITHOUT_FACTOR = frozenset(
    {
        "sign-out", "api-sign-out", "my-factors", "factor-app", "factor-passkey", "factor-codes", "factor-remove",
        "prove", "my-password", "my-sign-ins", "sign-in-end", "sign-ins-end-others", "sheet-stop",
    }
)  # fmt: skip


class SignInLife:
    """Ends what has lasted too long; a phone that is not one's own keeps no page."""

    def __init__(self, get_response: Any) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response: HttpResponse = self.get_response(request)
        if response.has_header("Phone-Keeps") and life_of(request).get("shared"):
            del response["Phone-Keeps"]
        return response

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        is_api = request.path.startswith(API_PREFIX)
        if not (is_api or getattr(view, "login_required", True)):
            return None
        try:
            return _held_or_ended(request, is_api=is_api)
        except BUSY_FAULTS:
            return server_fault(request)


def _held_or_ended(request: HttpRequest, *, is_api: bool) -> HttpResponse | None:
    if not mark_seen(request):
        logout(request)
        return None
    life = life_of(request)
    return _factor_first(request, life, is_api=is_api) if life.get("factor_due") else None


def _factor_first(request: HttpRequest, life: dict[str, Any], *, is_api: bool) -> HttpResponse | None:
    club = request.user.person.club
    begins = club.second_factor_from
    name = request.resolver_match.url_name if request.resolver_match else ""
    may_wait = not life.get("factor_lost") and (begins is None or today_in(club.timezone) < begins)
    if may_wait or name in WITHOUT_FACTOR:
        return None
    if is_api:
        detail = _("Your role needs a second factor: set it up on the page under your name.")
        return JsonResponse({"code": "SECOND_FACTOR_FIRST", "detail": detail, "fields": {}}, status=403)
    return redirect("my-factors")
