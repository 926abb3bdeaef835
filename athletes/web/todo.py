"""The admin's To do: at most seven things, the first due first, each with one button."""

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from athletes.models import RosterFile
from athletes.models.accounts import Role
from athletes.selectors.roster import gap_counts
from athletes.selectors.roster_files import files_of
from athletes.selectors.todo import Due, due_items, register_source
from athletes.viewer import Viewer, viewer_of
from athletes.web.roster import GAP_LABELS


@require_safe
def to_do(request: HttpRequest) -> HttpResponse:
    """What needs me in ten minutes?"""
    viewer = viewer_of(request, Role.ADMIN)
    items, more = due_items(viewer)
    shown = {"items": items, "more": more, "acting_role": Role.ADMIN.label}
    return render(request, "athletes/to_do.html", shown)


@register_source
def roster_gaps(viewer: Viewer) -> list[Due]:
    """Gaps of the roster, each kind once; answers that are missing stand under consents."""
    counted = gap_counts(viewer)
    return [
        Due(
            viewer.today + timedelta(days=7),
            ngettext("%(count)d athlete: %(gap)s.", "%(count)d athletes: %(gap)s.", counted[gap])
            % {"count": counted[gap], "gap": label},
            _("Show them"),
            f"{reverse('roster')}?gap={gap}",
        )
        for gap, label in GAP_LABELS.items()
        if counted[gap] and gap != "health_unanswered"
    ]


@register_source
def files_that_wait(viewer: Viewer) -> list[Due]:
    """Roster files that want an answer before they go in."""
    return [
        Due(
            file.at.astimezone(viewer.now.tzinfo).date(),
            _("A file for the roster waits for your answer."),
            _("Look at it"),
            reverse("roster-file", args=[file.pk]),
        )
        for file in files_of(viewer)
        if file.state == RosterFile.State.READY
    ]
