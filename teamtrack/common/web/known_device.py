"""A signed cookie that says who has signed in with this browser before: their wrong tries are counted apart, so that
nobody locks them out from elsewhere. It holds hashes, no names, and proves nothing else."""

import secrets

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

COOKIE = "device"
SALT = "teamtrack.device"
AGE_S = 365 * 24 * 3600
MOST = 5


def device_for(request: HttpRequest, name: str) -> str:
    """The id of this browser where `name` has signed in with it before; empty where not."""
    device, names = _read(request)
    return device if _mark(name) in names else ""


def remember_device(request: HttpRequest, response: HttpResponse, name: str) -> None:
    """From now on `name` is known here."""
    device, names = _read(request)
    names = [_mark(name), *(one for one in names if one != _mark(name))][:MOST]
    response.set_cookie(
        _cookie_name(), signing.dumps([device or secrets.token_urlsafe(16), names], salt=SALT), max_age=AGE_S,
        secure=settings.SESSION_COOKIE_SECURE, httponly=True, samesite="Lax",
    )  # fmt: skip


def _cookie_name() -> str:
    return f"__Host-{COOKIE}" if settings.SESSION_COOKIE_SECURE else COOKIE


def _read(request: HttpRequest) -> tuple[str, list[str]]:
    try:
        device, names = signing.loads(request.COOKIES.get(_cookie_name(), ""), salt=SALT, max_age=AGE_S)
    except (signing.BadSignature, ValueError, TypeError):
        return "", []
    return str(device), [str(one) for one in names]


def _mark(name: str) -> str:
    return salted_hmac(SALT, name, algorithm="sha256").hexdigest()[:32]
