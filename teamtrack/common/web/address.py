"""From where a request comes, where only tries are counted by it: never the address itself, a keyed hash of it."""

from django.conf import settings
from django.http import HttpRequest
from django.utils.crypto import salted_hmac


def place_of(request: HttpRequest) -> str:
    """A hash of the address. Behind a proxy of one's own it is the last one named: that one the proxy has written."""
    address = request.META.get("REMOTE_ADDR", "")
    if settings.SECURE_PROXY_SSL_HEADER:
        address = request.META.get("HTTP_X_FORWARDED_FOR", address).rpartition(",")[2].strip()
    return salted_hmac("teamtrack.place", address, algorithm="sha256").hexdigest()
