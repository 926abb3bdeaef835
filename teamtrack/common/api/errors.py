"""Every API error in one shape: code, one sentence, fields."""

from django.core.exceptions import PermissionDenied as DjangoPermissionDenied
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response

from teamtrack.common import words
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.errors import BUSY_FAULTS, BUSY_RETRY_S

REQUEST_CODES = {
    "parse_error": "MALFORMED",
    "method_not_allowed": "METHOD_NOT_ALLOWED",
    "unsupported_media_type": "NOT_JSON",
}


def error_answer(status: int, code: str, detail: object, fields: dict[str, list[str]] | None = None) -> Response:
    """The one shape of an error."""
    return Response({"code": code, "detail": str(detail), "fields": fields or {}}, status=status)


def answer_for(exception: Exception, context: dict[str, object]) -> Response | None:
    """Turn an exception of a doorway, a service or the database into an answer; None lets it be a 500."""
    if isinstance(exception, Http404):
        exception = NotFound()
    if isinstance(exception, Refused):
        answer = error_answer(exception.status, exception.code, exception.detail, exception.fields)
        if wait_s := getattr(exception, "wait_s", 0):
            answer["Retry-After"] = str(wait_s)
        return answer
    if isinstance(exception, exceptions.ValidationError):
        return error_answer(400, "CHECK_FIELDS", words.CHECK_FIELDS, _field_words(exception.detail))
    if isinstance(exception, (exceptions.NotAuthenticated, exceptions.AuthenticationFailed)):
        answer = error_answer(401, "SIGN_IN_FIRST", words.SIGN_IN_FIRST)
        answer["WWW-Authenticate"] = "Session"
        return answer
    if isinstance(exception, (exceptions.PermissionDenied, DjangoPermissionDenied)):
        if str(exception).startswith("CSRF Failed"):
            return error_answer(403, "CSRF_FAILED", words.CSRF_FAILED)
        return error_answer(403, "NOT_ALLOWED", words.NOT_ALLOWED)
    if isinstance(exception, BUSY_FAULTS):
        answer = error_answer(503, "BUSY", words.BUSY)
        answer["Retry-After"] = str(BUSY_RETRY_S)
        return answer
    if isinstance(exception, exceptions.APIException):
        code = REQUEST_CODES.get(exception.default_code, "NOT_ALLOWED")
        return error_answer(exception.status_code, code, words.MALFORMED if code == "MALFORMED" else exception.detail)
    return None


def _field_words(detail: object) -> dict[str, list[str]]:
    if isinstance(detail, dict):
        return {str(key): _flat(value) for key, value in detail.items()}
    return {"": _flat(detail)}


def _flat(value: object) -> list[str]:
    if isinstance(value, dict):
        return [text for inner in value.values() for text in _flat(inner)]
    if isinstance(value, list):
        return [text for inner in value for text in _flat(inner)]
    return [str(value)]
