"""Error pages: what happened, what is safe, what to do."""

import sys

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from teamtrack.common import words
from teamtrack.common.errors import NotFound, Refused

BUSY_RETRY_S = 2
BUSY_FAULTS = (InterfaceError, OperationalError)
"""What a database raises that is away, or has no connection or lock to give in time."""


def refusal_page(request: HttpRequest, refusal: Refused) -> HttpResponse:
    """The page for a refusal; 404 is the same page for absent and not yours."""
    if refusal.status == 404:
        return render(request, "404.html", status=404)
    page = render(request, "refusal.html", {"refusal": refusal}, status=refusal.status)
    if wait_s := getattr(refusal, "wait_s", 0):
        page["Retry-After"] = str(wait_s)
    return page


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """No such address: the API answers in JSON."""
    if _is_api(request):
        missing = NotFound()
        return _api_fault(missing.status, missing.code, missing.detail)
    return render(request, "404.html", status=404)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose proof of origin is missing or old."""
    if _is_api(request):
        return _api_fault(403, "CSRF_FAILED", words.CSRF_FAILED)
    return render(request, "403_csrf.html", status=403)


def server_fault(request: HttpRequest) -> HttpResponse:
    """Something broke, or the database did not answer in time: before a doorway was reached, too.

    Nothing of who asks is looked up: the database may be away.
    """
    is_busy = isinstance(sys.exc_info()[1], BUSY_FAULTS)
    status, code, detail = (503, "BUSY", words.BUSY) if is_busy else (500, "FAULT", words.FAULT)
    if _is_api(request):
        answer: HttpResponse = _api_fault(status, code, detail)
    else:
        answer = HttpResponse(render_to_string(f"{status}.html"), status=status)
    if is_busy:
        answer["Retry-After"] = str(BUSY_RETRY_S)
    return answer


def _is_api(request: HttpRequest) -> bool:
    return request.path.startswith("/api/")


def _api_fault(status: int, code: str, detail: object) -> JsonResponse:
    return JsonResponse({"code": code, "detail": str(detail), "fields": {}}, status=status)
