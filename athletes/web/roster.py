"""The admin's roster with its gaps first."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from athletes.models.accounts import Role
from athletes.selectors.roster import RosterRow, checks_running_out, roster
from athletes.selectors.roster_files import files_of
from athletes.viewer import viewer_of

GAP_LABELS: dict[str, str | Promise] = {
    "no_contact": gettext_lazy("no number to ring"),
    "no_birth_date": gettext_lazy("no birth date"),
    "no_guardian": gettext_lazy("no guardian linked"),
    "guardian_unverified": gettext_lazy("guardian not yet checked"),
    "health_unanswered": gettext_lazy("question about pain notes not answered"),
}


@require_safe
def roster_page(request: HttpRequest) -> HttpResponse:
    """Everybody, gaps first, a hundred a page; `?gap=` shows one gap alone."""
    viewer = viewer_of(request, Role.ADMIN)
    asked = request.GET.get("gap", "")
    gap = asked if asked in GAP_LABELS else ""
    page = request.GET.get("page", "")
    shown = roster(viewer, gap=gap, page=int(page) if page.isdecimal() and len(page) < 6 else 1)
    context = {
        "shown": shown,
        "rows": [(row, _gap_words(row)) for row in shown.rows],
        "gap": GAP_LABELS.get(gap, ""),
        "gap_code": gap,
        "gaps": [(code, GAP_LABELS[code], count) for code, count in shown.gap_counts.items() if count],
        "pages": range(1, shown.pages + 1),
        "checks": checks_running_out(viewer),
        "files": files_of(viewer),
        "find_at": reverse("admin-people-find"),
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/roster.html", context)


def _gap_words(row: RosterRow) -> list[str | Promise]:
    return [label for gap, label in GAP_LABELS.items() if gap in row.gaps]
