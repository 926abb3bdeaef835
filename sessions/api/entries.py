"""API doorway of the exchange: phones send entries, fetch what came after a seq, and ask what counts."""

import json
import re
from collections.abc import Mapping
from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.utils import extend_schema
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from athletes.viewer import viewer_of
from sessions.access import Part, get_part
from sessions.api import entry_schema, entry_words
from sessions.core.entries.posted import MOST_BYTES, BodyFault, Posted, read_body
from sessions.core.entries.shape import Refusal
from sessions.services.read_entries import count_entries, read_entries
from sessions.services.record_entries import Taken, record_entries
from teamtrack.common.errors import Conflict, NotFound, Refused

_WHOLE = re.compile(r"0|[1-9][0-9]{0,15}")
_HIGHEST_AFTER = 2**53
_MOST_ITEMS = 500


class NotJson(Refused):
    status = 415


class TooLarge(Refused):
    status = 413


class _ExchangeView(APIView):
    """What both addresses share: always JSON, never kept by a cache."""

    answers_any_accept = True

    def perform_content_negotiation(self, request: Request, force: bool = False) -> tuple[JSONRenderer, str]:
        return JSONRenderer(), JSONRenderer.media_type

    def finalize_response(self, request: Request, response: Response, *args: object, **kwargs: object) -> Response:
        response["Cache-Control"] = "no-store"
        return super().finalize_response(request, response, *args, **kwargs)


class Entries(_ExchangeView):
    """The entries of one training session."""

    @extend_schema(parameters=entry_schema.PAGE, responses=entry_schema.ENTRIES_PAGE)
    def get(self, request: Request, session_id: str) -> HttpResponse:
        """Entries by seq that came after a seq, as far as the reader may see them, and what is to be dropped."""
        part = _part(request, session_id)
        query = _query(request, {"after": (0, _HIGHEST_AFTER), "limit": (1, _MOST_ITEMS)})
        page = read_entries(part=part, after=query.get("after", 0), limit=query.get("limit", _MOST_ITEMS))
        drop = [{"athlete": athlete, "purpose": purpose} for athlete, purpose in page.drop]
        return _json({"items": page.items, "next": page.next, "more": page.more, "drop": drop})

    @extend_schema(parameters=entry_schema.SESSION, request=entry_schema.POSTED, responses=entry_schema.ANSWERS)
    def post(self, request: Request, session_id: str) -> HttpResponse:
        """Take up to 500 entries, each answered on its own; sent again, they are known and not counted twice."""
        part = _part(request, session_id)
        _query(request, {})
        posted = _posted(request)
        if posted.sent_as != str(part.viewer.person_id):
            raise Conflict("OTHER_PERSON", entry_words.OTHER_PERSON)
        answers = record_entries(part=part, posted=posted.entries)
        return _json({"answers": [_answer(answer) for answer in answers]})


class EntriesCounting(_ExchangeView):
    """Which entries of one training session count."""

    @extend_schema(parameters=entry_schema.SESSION, responses=entry_schema.COUNTING)
    def get(self, request: Request, session_id: str) -> HttpResponse:
        """What counts of what the reader may see, and what stands beside each other."""
        part = _part(request, session_id)
        _query(request, {})
        seq, found = count_entries(part=part)
        return _json({"seq": seq, "ids": found.ids, "beside": found.beside})


def _part(request: Request, session_id: str) -> Part:
    try:
        wanted = UUID(session_id)
    except ValueError:
        raise NotFound() from None
    if str(wanted) != session_id:
        raise NotFound()
    return get_part(viewer_of(request._request), wanted)


def _posted(request: Request) -> Posted:
    if request.META.get("CONTENT_TYPE", "").split(";")[0].strip().lower() != "application/json":
        raise NotJson("NOT_JSON", entry_words.NOT_JSON)
    if int(request.META.get("CONTENT_LENGTH") or 0) > MOST_BYTES:
        raise TooLarge("TOO_LARGE", entry_words.TOO_LARGE)
    found = read_body(request._request.body)
    if found is BodyFault.TOO_LARGE:
        raise TooLarge("TOO_LARGE", entry_words.TOO_LARGE)
    if isinstance(found, BodyFault):
        raise Refused("MALFORMED", entry_words.MALFORMED)
    return found


def _query(request: Request, limits: Mapping[str, tuple[int, int]]) -> dict[str, int]:
    """The numbers of the address, each known, given once and within its limits."""
    found = {}
    for key, values in request.query_params.lists():
        low, high = limits.get(key, (1, 0))
        if len(values) != 1 or not _WHOLE.fullmatch(values[0]) or not low <= int(values[0]) <= high:
            raise Refused("BAD_QUERY", entry_words.BAD_QUERY)
        found[key] = int(values[0])
    return found


def _answer(answer: Taken | Refusal) -> dict[str, object]:
    if isinstance(answer, Taken):
        return {"id": answer.id, "answer": answer.verdict, "seq": answer.seq}
    detail = entry_words.refusal_words(answer.code)
    return {"id": answer.id, "answer": "refused", "code": answer.code, "field": answer.field, "detail": detail}


def _json(content: Mapping[str, object]) -> HttpResponse:
    """JSON in plain ASCII, so that a key that is no text at all can be named too."""
    return HttpResponse(json.dumps(content), content_type=JSONRenderer.media_type)
