"""Pages of Log strides: own view first, the day's effort, and stop with where it hurts."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.access import Part, get_part
from sessions.effort_words import CHILD_EFFORTS, EFFORTS, FEELS
from sessions.models import Entry
from sessions.selectors.own_log import own_log, sessions_to_log
from sessions.selectors.own_plan import coming_sessions
from sessions.words import PLACES, SIDES, place_name
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound
from teamtrack.common.web.phone import keep_on_phone, seconds_to_end

FELT: dict[str, str | Promise] = {"held": _("felt it"), "partly": _("a bit"), "not_yet": _("no")}
URGENT_PLACES = ("chest", "head", "unwell")


@require_GET
def log_now(request: HttpRequest) -> HttpResponse:
    """Lead to today's session if it has begun; else show what may still be logged."""
    viewer = viewer_of(request, Role.ATHLETE)
    sessions = list(sessions_to_log(viewer))
    for training_session in sessions:
        if training_session.starts_at.astimezone(viewer.now.tzinfo).date() == viewer.today:
            return redirect("log-strides", training_session.pk)
    coming = coming_sessions(viewer=viewer, athletes=[viewer.person]).get(viewer.person_id, [])
    context = {
        "sessions": sessions,
        "next": coming[0] if coming else None,
        "acting_role": Role.ATHLETE.label,
        "zone": viewer.club.timezone,
    }
    return keep_on_phone(render(request, "sessions/log_now.html", context), now=viewer.now)


@require_GET
def log_strides(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """How did it feel?"""
    viewer = viewer_of(request, Role.ATHLETE)
    part = get_part(viewer, session_id)
    if part.is_coach or not part.may_read:
        raise NotFound()
    response = render(request, "sessions/log_strides.html", _context(viewer, part))
    return keep_on_phone(response, now=viewer.now, day=part.day)


def _context(viewer: Viewer, part: Part) -> dict[str, object]:
    log = own_log(viewer=viewer, training_session=part.training_session)
    said = _said(log.felt)
    return {
        "log": log,
        "place": place_name(log.training_session),
        "has_begun": log.training_session.starts_at.astimezone(viewer.now.tzinfo).date() <= viewer.today,
        "efforts": CHILD_EFFORTS if log.is_under_13 else EFFORTS,
        "feels": FEELS,
        "felt": FELT,
        "places": PLACES,
        "sides": SIDES,
        "urgent_places": URGENT_PLACES,
        "may_keep_pain": part.answers([viewer.person], ["health"]).may(viewer.person_id, "health"),
        "said": said,
        "said_day": log.day[-1].content if log.day else {},
        "felt_ids": [str(entry.pk) for entry in log.felt],
        "day_ids": [str(entry.pk) for entry in log.day],
        "person": viewer.person,
        "served": utc_now().isoformat(),
        "keep_s": seconds_to_end(now=viewer.now, day=part.day),
        "club": viewer.club,
        "acting_role": Role.ATHLETE.label,
        "zone": viewer.club.timezone,
    }


def _said(felt: tuple[Entry, ...]) -> dict[str, object]:
    """What was said before: effort, feel, words, and for each point how it felt."""
    said: dict[str, object] = {"points": {}}
    for entry in felt:
        said |= {key: entry.content[key] for key in ("effort", "feel", "words") if key in entry.content}
        if "shown" in entry.content:
            said["points"][entry.content["feature"]] = entry.content["shown"]  # type: ignore[index]
    return said
