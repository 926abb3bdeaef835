"""The published week on paper: one page a group, and who leads what; A4 or Letter by the club's country."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from athletes.viewer import viewer_of
from sessions.web.week import monday_of_page
from sessions.web.week_sheets import group_sheets, rota
from sessions.web.week_view import PublishedView


@require_GET
def print_page(request: HttpRequest, role: str, label: str) -> HttpResponse:
    """What is published, and nothing of the draft; no athlete's name is on it."""
    view = PublishedView(viewer_of(request, role), monday_of_page(label))
    context = {
        "view": view,
        "groups": group_sheets(view.items, view.groups, view.head.week),
        "rota": rota(view.items, view.head.week),
        "printed_on": view.viewer.today,
        "printed_by": view.viewer.person.full_name,
        "destroy_after": view.head.week.sunday,
    }
    return render(request, "sessions/week/print.html", context)
