"""An offer to undo the last step: kept in the browser's session until the next page shows it once."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass

from django.http import HttpRequest

_KEY = "undo_offer"


@dataclass(frozen=True)
class UndoOffer:
    """What was done, and the form that takes it back."""

    text: str
    action: str
    fields: Mapping[str, str]


def offer_undo(request: HttpRequest, *, text: str, action: str, fields: Mapping[str, str]) -> None:
    """Show the undo bar on the next page."""
    request.session[_KEY] = asdict(UndoOffer(text=str(text), action=action, fields=dict(fields)))


def is_fetched_ahead(request: HttpRequest) -> bool:
    """Whether the phone asks for this page only to keep it: nobody looks now, and what is said once has to wait."""
    return "X-Keep" in request.headers


def taken_offer(request: HttpRequest) -> UndoOffer | None:
    """The offer, if there is one; it is shown once, to somebody who looks."""
    browser_session = getattr(request, "session", None)
    if browser_session is None or is_fetched_ahead(request) or _KEY not in browser_session:
        return None
    return UndoOffer(**browser_session.pop(_KEY))
