"""The call list: whom a change has not reached, with the number to ring and one tap for "reached"."""

from datetime import datetime
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.dateparse import parse_datetime
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_POST

from athletes.viewer import viewer_of
from sessions.selectors.call_list import Why, call_list
from sessions.services.reach_people import take_back_tick, tick_reached
from teamtrack.common.errors import NotFound
from teamtrack.common.web.undo import offer_undo

WHY: dict[Why, str | Promise] = {
    Why.NO_WAY: _("no account and no mail taken: ring"),
    Why.NOT_OPENED: _("not opened yet"),
    Why.SENT: _("sent, not confirmed"),
}
PAGES = {"head_coach": "head-coach-call-list", "admin": "admin-call-list"}
TICKS = {"head_coach": "head-coach-reached", "admin": "admin-reached"}
UNTICKS = {"head_coach": "head-coach-not-reached", "admin": "admin-not-reached"}


@require_GET
def call_list_page(request: HttpRequest, role: str) -> HttpResponse:
    """Whom has the change not reached?"""
    viewer = viewer_of(request, role)
    found = call_list(viewer)
    context = {
        "waiting": len(found.waiting),
        "changed": [(one, WHY[one.why]) for one in found.waiting if not one.is_only_new],
        "only_new": [(one, WHY[one.why]) for one in found.waiting if one.is_only_new],
        "reached": len(found.reached),
        "ticks": TICKS[role],
        "role": role,
        "zone": viewer.club.timezone,
        "printed_on": viewer.today,
        "printed_by": viewer.person.full_name,
    }
    return render(request, "sessions/call_list.html", context)


@require_POST
def reached(request: HttpRequest, role: str, person_id: UUID) -> HttpResponse:
    """The caller told this person of all that the page shows."""
    at = tick_reached(viewer=viewer_of(request, role), person_id=person_id, until=_moment(request, "until"))
    action = reverse(UNTICKS[role], args=[person_id])
    offer_undo(request, text=gettext("Ticked as reached."), action=action, fields={"at": at.isoformat()})
    return redirect(PAGES[role])


@require_POST
def not_reached(request: HttpRequest, role: str, person_id: UUID) -> HttpResponse:
    """The tick was a slip."""
    take_back_tick(viewer=viewer_of(request, role), person_id=person_id, at=_moment(request, "at"))
    return redirect(PAGES[role])


def _moment(request: HttpRequest, name: str) -> datetime:
    try:
        found = parse_datetime(request.POST.get(name, ""))
    except ValueError:
        found = None
    if found is None or found.tzinfo is None:
        raise NotFound()
    return found
