"""What lives on the phone: the service worker, the page said without signal, and which pages are kept."""

import json
from datetime import date, datetime, time, timedelta
from functools import cache
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_safe

STATIC_DIR = Path(__file__).resolve().parent.parent / "static"
WORKER = "js/service_worker.js"
FILES = ("css/*.css", "img/*.svg", "js/**/*.js")


def keep_on_phone(response: HttpResponse, *, now: datetime, day: date | None = None) -> HttpResponse:
    """Let the phone keep this page of who is signed in to the end of that day, or of today in the club's zone."""
    response["Phone-Keeps"] = str(seconds_to_end(now=now, day=day))
    return response


def seconds_to_end(*, now: datetime, day: date | None = None) -> int:
    """Seconds from now to the end of a day, or of today where that is later, in the zone of `now`."""
    last = max(now.date(), day or now.date())
    return int((datetime.combine(last + timedelta(days=1), time(), now.tzinfo) - now).total_seconds())


@login_not_required
@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """The service worker with this release's files; its text changes with any of them."""
    told = _release() if settings.DEBUG else _release_once()
    text = f"const RELEASE = {json.dumps(told)};\n" + (STATIC_DIR / WORKER).read_text(encoding="utf-8")
    response = HttpResponse(text, content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    return response


@login_not_required
@require_safe
def needs_signal(request: HttpRequest) -> HttpResponse:
    """What is said in place of a page that was not opened today; the same for everybody."""
    return render(request, "needs_signal.html")


def _release() -> dict[str, object]:
    names = sorted({path.relative_to(STATIC_DIR).as_posix() for glob in FILES for path in STATIC_DIR.glob(glob)})
    names.remove(WORKER)
    content = sha256()
    for name in [*names, WORKER]:
        content.update((STATIC_DIR / name).read_bytes())
    pages = [reverse("needs-signal")]
    return {
        "version": content.hexdigest()[:16],
        "staticPath": settings.STATIC_URL,
        "needsSignal": pages[0],
        "files": [*pages, *(static(name) for name in names)],
    }


_release_once = cache(_release)
