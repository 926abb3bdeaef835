"""The page on which a group is handed over: read or printed by whoever coaches it."""

from datetime import timedelta
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from athletes.models.accounts import Role
from athletes.viewer import viewer_of
from sessions.selectors.hand_over import hand_over

KEPT_ON_PAPER = timedelta(days=14)
"""A printed page is for the handing over: after two weeks it goes (common practice, no source)."""


@require_safe
def hand_over_page(request: HttpRequest, group_id: UUID) -> HttpResponse:
    """What does the next coach need to know of each athlete?"""
    viewer = viewer_of(request, Role.COACH)
    context = {
        "found": hand_over(viewer=viewer, group_id=group_id),
        "printed_on": viewer.now,
        "printed_by": viewer.person.full_name,
        "destroy_after": viewer.today + KEPT_ON_PAPER,
        "zone": viewer.club.timezone,
        "acting_role": Role.COACH.label,
    }
    return render(request, "sessions/hand_over.html", context)
