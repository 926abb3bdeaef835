"""The limit of requests, as the API's framework asks for it."""

from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from athletes.services.throttle import throttle


class PerPerson(BaseThrottle):
    """Counts each request of somebody signed in; signing in has limits of its own."""

    def allow_request(self, request: Request, view: object) -> bool:
        if request.user.is_authenticated:
            throttle.count_request(person_id=request.user.person_id, is_read=request.method in SAFE_METHODS)
        return True
