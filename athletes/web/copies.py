"""The copy of what is kept about an athlete: as a file, as a page that prints, and read in from another club."""

import json
from collections.abc import Mapping
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_POST, require_safe

from athletes.access import get_athlete_asked_about
from athletes.models.accounts import Role
from athletes.services.copies import bring_copy, copy_for, for_file
from athletes.viewer import viewer_of, viewer_on_own_data
from athletes.web.access_log import kind_words, role_words, verb_words
from athletes.web.step_up import proved
from teamtrack.common.errors import NotFound, Refused

LARGEST = 5_000_000
KIND_WORDS = {
    "answer": gettext_lazy("Permission answers"),
    "attendance": gettext_lazy("Sessions and who came"),
    "availability": gettext_lazy("Coming, modified, not coming"),
    "contact": gettext_lazy("Whom the club rings, and who may collect"),
    "correction": gettext_lazy("What was put right"),
    "emergency": gettext_lazy("Opened in an emergency"),
    "feedback": gettext_lazy("Form history"),
    "focus": gettext_lazy("Points in hand"),
    "group": gettext_lazy("Groups"),
    "guardian": gettext_lazy("Guardians"),
    "health": gettext_lazy("Pain notes"),
    "hold": gettext_lazy("Kept for a legal reason"),
    "limit": gettext_lazy("Limits"),
    "log": gettext_lazy("Own logs"),
    "log_question": gettext_lazy("Questions about who looked"),
    "mark": gettext_lazy("Marks"),
    "membership": gettext_lazy("Membership"),
    "notice": gettext_lazy("Notices"),
    "person": gettext_lazy("Record"),
    "reminder": gettext_lazy("Reminders"),
    "request": gettext_lazy("Data requests"),
    "sign_in": gettext_lazy("Sign-in"),
    "unsuited": gettext_lazy("What does not suit"),
    "who_looked": gettext_lazy("Who looked"),
    "work": gettext_lazy("Work for the club"),
}
LEFT_OUT_WORDS = {
    "audit": gettext_lazy("who looked"),
    "feedback": gettext_lazy("form history"),
    "health": gettext_lazy("pain notes"),
}
SOURCE_WORDS = {
    "you": gettext_lazy("from you"),
    "athlete": gettext_lazy("from the athlete"),
    "guardian": gettext_lazy("from a guardian"),
    "coach": gettext_lazy("from a coach"),
}


@require_safe
@proved
def copy_file(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """The copy as a file, for whom the decision allows it."""
    try:
        copy = copy_for(viewer=viewer_on_own_data(request, role), athlete_id=athlete_id)
    except Refused as refusal:
        return _refused(request, role, athlete_id, refusal)
    answer = JsonResponse(for_file(copy), json_dumps_params={"indent": 1, "ensure_ascii": False})
    answer["Content-Disposition"] = 'attachment; filename="copy.json"'
    return answer


@require_safe
@proved
def copy_page(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """The same copy as a page that prints."""
    try:
        copy = copy_for(viewer=viewer_on_own_data(request, role), athlete_id=athlete_id)
    except Refused as refusal:
        return _refused(request, role, athlete_id, refusal)
    items = [
        one
        | {
            "kind_words": KIND_WORDS[one["kind"]],
            "shown": _line_shown(one["content"]) if one["kind"] == "who_looked" else one["shown"],
            "source_words": SOURCE_WORDS.get(one["source"], _("from the club")),
        }
        for one in copy["items"]
    ]
    left_out = [LEFT_OUT_WORDS[one] for one in copy["left_out"]]
    shown = {
        "copy": copy, "left_out": left_out, "items": items, "role": role, "athlete_id": athlete_id,
        "acting_role": Role(role).label,
    }  # fmt: skip
    return render(request, "athletes/copy.html", shown)


def _line_shown(content: Mapping[str, str]) -> str:
    """A line of the access log in words."""
    said = (role_words(content["role"]), verb_words(content["verb"]), kind_words(content["kind"]))
    return "{}: {} {}".format(*said)


@require_POST
def bring(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """Read in another club's copy: history, no permission."""
    viewer = viewer_of(request, role)
    get_athlete_asked_about(viewer, athlete_id)
    sent = request.FILES.get("file")
    try:
        if sent is None or sent.size is None or sent.size > LARGEST:
            raise Refused("NOT_A_COPY", _("Choose the file of the copy, up to 5 MB. Nothing was kept."))
        new = bring_copy(viewer=viewer, athlete_id=athlete_id, copy=_read(sent.read()))
    except Refused as refusal:
        return _refused(request, role, athlete_id, refusal)
    said = ngettext("%(count)d item was read in.", "%(count)d items were read in.", new) % {"count": new}
    messages.success(request, said)
    return redirect(_address(role, athlete_id))


def _read(content: bytes) -> object:
    try:
        return json.loads(content)
    except (ValueError, RecursionError):
        return None


def _address(role: str, athlete_id: UUID) -> str:
    if role == Role.ATHLETE:
        return reverse("athlete-requests")
    return reverse("guardian-requests", args=[athlete_id])


def _refused(request: HttpRequest, role: str, athlete_id: UUID, refusal: Refused) -> HttpResponse:
    """Said on the page of requests; absent and not yours stay alike."""
    if isinstance(refusal, NotFound):
        raise refusal
    messages.error(request, refusal.detail)
    return redirect(_address(role, athlete_id))
