"""The Today page: what comes next and where, one block for each role held."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.selectors.cautions import cautions_of_today
from sessions.selectors.today_athlete import athlete_block
from sessions.selectors.today_coach import coach_block
from sessions.selectors.today_guardian import guardian_block
from sessions.selectors.today_head_coach import head_coach_block
from sessions.services.say_caution import SAYERS
from sessions.services.see_notices import see_notice
from teamtrack.common.web.phone import keep_on_phone

BLOCKS = {
    Role.HEAD_COACH: head_coach_block,
    Role.COACH: coach_block,
    Role.ATHLETE: athlete_block,
    Role.GUARDIAN: guardian_block,
}


@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """What next, where?"""
    viewer = viewer_of(request)
    blocks = [_block(viewer.acting_as(role)) for role in BLOCKS if role in viewer.roles]
    says_as = next((role.value for role in SAYERS if role in viewer.roles), "")
    context = {"cautions": cautions_of_today(viewer), "says_as": says_as}
    context |= {"blocks": blocks, "now": viewer.now, "zone": viewer.club.timezone}
    page = render(request, "sessions/today.html", context)
    tells = any(getattr(one["block"], "told", ()) for one in blocks)  # what was typed in an emergency lies on no phone
    return page if tells else keep_on_phone(page, now=viewer.now)


@require_POST
def notice_seen(request: HttpRequest, role: str, notice_id: UUID) -> HttpResponse:
    """A coach has seen a notice."""
    see_notice(viewer=viewer_of(request, role), notice_id=notice_id)
    return redirect("today")


def _block(viewer: Viewer) -> dict[str, object]:
    role = Role(viewer.role)
    return {"template": f"sessions/today/{role.value}.html", "block": BLOCKS[role](viewer), "role": role.value}
