"""Pages of a coach beside the straight: the session's own page, and its summary."""

from uuid import UUID

from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from athletes.models import EventGroup
from athletes.models.accounts import Role
from athletes.viewer import viewer_of
from sessions.access import LATE_SENDING, Part, get_led_session, groups_set_by
from sessions.selectors.cautions import cautions_of_today
from sessions.selectors.session_summary import session_summary
from sessions.web.trackside_words import UNDERSTOOD_ANSWERS, words_for_script
from sessions.words import HOW, SHOWN
from teamtrack.common.clock import utc_now
from teamtrack.common.web.phone import keep_on_phone, seconds_to_end


@require_GET
def trackside_page(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """Who runs now, and what am I looking for?"""
    part = get_led_session(viewer_of(request, Role.COACH), session_id)
    context = _context(part) | {
        "words": words_for_script(),
        "shown": SHOWN,
        "how": HOW,
        "understood": UNDERSTOOD_ANSWERS,
        "point_views": ("point", "strength"),
        "person": part.viewer.person,
        "groups": _groups_set(part),
        "thunder_ago_s": _thunder_ago_s(part),
        "served": utc_now().isoformat(),
        "keep_s": seconds_to_end(now=part.viewer.now, day=part.day),
    }
    response = render(request, "sessions/trackside.html", context)
    return keep_on_phone(response, now=part.viewer.now, day=part.day)


def _thunder_ago_s(part: Part) -> int | str:
    """Seconds since the club's last thunder of today; the phone's own clock may be wrong."""
    thunder = cautions_of_today(part.viewer).thunder
    return int((part.viewer.now - thunder.at).total_seconds()) if thunder else ""


def _groups_set(part: Part) -> list[EventGroup]:
    """The session's groups whose defaults are the reader's to set."""
    acting_as = part.acting_as if part.is_its_day else None
    here = set(part.training_session.groups.all())
    return [one for one in groups_set_by(part.viewer, acting_as=acting_as) if one in here]


@require_GET
def summary_page(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """What do we take along?"""
    part = get_led_session(viewer_of(request, Role.COACH), session_id)
    context = _context(part) | {
        "summary": session_summary(part=part),
        "sheets": list(part.training_session.sheets.all()),
        "printed_on": part.viewer.now,
        "printed_by": part.viewer.person.full_name,
        "destroy_after": part.day + LATE_SENDING,
    }
    return render(request, "sessions/summary.html", context)


def _context(part: Part) -> dict[str, object]:
    """What both pages say; the session's groups are read once, for its name stands in several places."""
    prefetch_related_objects([part.training_session], "groups")
    return {
        "session": part.training_session,
        "club": part.viewer.club,
        "person": part.viewer.person,
        "acting_role": Role.COACH.label,
        "zone": part.viewer.club.timezone,
    }
