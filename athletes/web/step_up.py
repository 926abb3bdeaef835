"""A recent proof before acts that open or give away much: asked once in ten minutes, then on with what was typed."""

from collections.abc import Callable
from functools import wraps
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from athletes.services.sign_in import is_proof
from athletes.services.sign_ins import change_life, is_proved
from athletes.services.tries import Wait
from teamtrack.common.clock import utc_now
from teamtrack.common.web.address import place_of
from teamtrack.common.web.known_device import device_for

FIELD = "proof"
LONGEST = 200
Page = Callable[..., HttpResponse]


def proved(page: Page) -> Page:
    """Asks for a proof where the last one is older than ten minutes; not of the invented club's accounts.

    What a form sent stays in the page that asks and is sent again with the answer; files cannot: no form with one is
    to be guarded by this.
    """

    @sensitive_post_parameters(FIELD)
    @wraps(page)
    def asked(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        if request.user.is_demo or is_proved(request):
            return page(request, *args, **kwargs)
        if request.method in ("GET", "HEAD"):
            return redirect(f"{reverse('prove')}?{urlencode({'next': request.get_full_path()})}")
        faults = _faults(request)
        return page(request, *args, **kwargs) if faults == [] else _ask(request, faults, request.get_full_path())

    return asked


@sensitive_post_parameters(FIELD)
@require_http_methods(["GET", "HEAD", "POST"])
def prove(request: HttpRequest) -> HttpResponse:
    """Asks before a page is shown, and leads there."""
    wanted = (request.POST if request.method == "POST" else request.GET).get("next", "")
    leads_to = wanted if url_has_allowed_host_and_scheme(wanted, {request.get_host()}, request.is_secure()) else "/"
    faults = _faults(request) if request.method == "POST" else None
    return redirect(leads_to) if faults == [] else _ask(request, faults, reverse("prove"), {"next": leads_to})


def _faults(request: HttpRequest) -> list[str] | None:
    """What is wrong with the proof that came; nothing where it is right, None where none came."""
    typed = request.POST.get(FIELD, "")[:LONGEST]
    if not typed:
        return None
    try:
        device = device_for(request, request.user.username)
        is_right = is_proof(account=request.user, typed=typed, place=place_of(request), device=device)
    except Wait as wait:
        return [wait.detail]
    if not is_right:
        return [_("This is not right. Nothing was lost: type it again.")]
    change_life(request, proved=utc_now().timestamp())
    return []


def _ask(
    request: HttpRequest, faults: list[str] | None, action: str, more: dict[str, str] | None = None
) -> HttpResponse:
    kept = [
        (name, value)
        for name, values in request.POST.lists()
        for value in values
        if name not in (FIELD, "csrfmiddlewaretoken", *(more or {}))
    ]
    context = {"action": action, "kept": [*kept, *(more or {}).items()], "faults": faults or []}
    return render(request, "athletes/prove.html", context, status=403 if faults else 200)
