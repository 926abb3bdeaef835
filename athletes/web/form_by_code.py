"""Pages of a form's one-time code, open without a sign-in: the code, the questions in their words, what was kept."""

from collections.abc import Callable
from functools import wraps

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from athletes.services.consent_forms import OpenForm, answer_form, open_form
from athletes.web.consents import lines_with_what_was_said, said_on_form
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.address import place_of

Page = Callable[[HttpRequest], HttpResponse]
LONGEST_TYPED = 60


def opened_by_code(page: Page) -> Page:
    """Open to whoever holds a code; kept by no cache, and no report of a fault holds what was typed."""

    @login_not_required
    @sensitive_post_parameters()
    @wraps(page)
    def opened(request: HttpRequest) -> HttpResponse:
        answer = page(request)
        answer["Cache-Control"] = "no-store"
        return answer

    return opened


@opened_by_code
@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest) -> HttpResponse:
    """Type the code (the printed address brings it along after its #), then see the questions."""
    if request.method != "POST":
        return render(request, "athletes/code_enter.html", {})
    try:
        opened = open_form(typed=_code(request), place=place_of(request))
    except Refused as refusal:
        return _refused(request, refusal)
    return _questions(request, opened)


@opened_by_code
@require_POST
def answer(request: HttpRequest) -> HttpResponse:
    """Keep the answers; the code opens nothing from then on."""
    typed, place = _code(request), place_of(request)
    signed_in = request.user.person if request.user.is_authenticated else None
    try:
        opened = open_form(typed=typed, place=place)
    except Refused as refusal:
        return _refused(request, refusal)
    said = said_on_form(request.POST, opened.signer)
    try:
        events = answer_form(typed=typed, place=place, said=said, signed_in=signed_in)
    except NotFound:
        raise
    except Refused as refusal:
        return _questions(request, opened, refusal.detail)
    return render(request, "athletes/code_kept.html", {"events": events, "club": opened.form.club})


def _code(request: HttpRequest) -> str:
    return request.POST.get("code", "")[:LONGEST_TYPED]


def _refused(request: HttpRequest, refusal: Refused) -> HttpResponse:
    page = render(request, "athletes/code_enter.html", {"fault": refusal.detail}, status=refusal.status)
    if wait_s := getattr(refusal, "wait_s", 0):
        page["Retry-After"] = str(wait_s)
    return page


def _questions(request: HttpRequest, opened: OpenForm, fault: str = "") -> HttpResponse:
    context = {
        "code": _code(request),
        "signer": opened.signer,
        "lines": lines_with_what_was_said(opened.lines, request.POST),
        "club": opened.form.club,
        "fault": fault,
    }
    return render(request, "athletes/code_questions.html", context, status=400 if fault else 200)
