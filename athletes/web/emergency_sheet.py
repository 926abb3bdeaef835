"""The emergency sheet on paper: numbers to ring and who may collect, by group."""

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from athletes.models.accounts import Role
from athletes.services.roster_out import print_emergency_sheet
from athletes.viewer import viewer_of
from athletes.web.step_up import proved

GOOD_FOR = timedelta(days=30)
"""Numbers change: a sheet is printed anew each month (our own choice)."""


@require_POST
@proved
def sheet(request: HttpRequest) -> HttpResponse:
    """Made by a button, since each one is a line in the access log; nothing of it is kept."""
    viewer = viewer_of(request, Role.ADMIN)
    context = {
        "groups": print_emergency_sheet(viewer=viewer),
        "club": viewer.club,
        "printed_on": viewer.today,
        "printed_by": viewer.person,
        "destroy_after": viewer.today + GOOD_FOR,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/emergency_sheet.html", context)
