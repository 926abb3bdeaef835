"""What the Week page asks while it stands: what a move would break, and whether somebody else changed the week."""

from uuid import UUID
from zoneinfo import ZoneInfo

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.formats import date_format
from django.views.decorators.http import require_GET

from athletes.models.accounts import Role
from athletes.viewer import viewer_of
from sessions.access import get_week
from sessions.core.iso_week import IsoWeek
from sessions.selectors.week_steps import step_sentences, steps_since
from sessions.services.what_if import what_if_moved
from sessions.web.week import monday_of_page
from sessions.week_words import session_words, when
from teamtrack.common.errors import NotFound, Refused


class CheckForm(forms.Form):
    """Where a session would lie, at its venue and with its coaches of the draft."""

    day = forms.DateField()
    starts = forms.TimeField()


@require_GET
def check(request: HttpRequest, label: str, demand_id: UUID) -> HttpResponse:
    """Every rule that the move would break, named with whom it concerns; nothing is saved."""
    viewer, monday = viewer_of(request, Role.HEAD_COACH), monday_of_page(label)
    form, week = CheckForm(request.GET), IsoWeek(monday, ZoneInfo(viewer.club.timezone))
    context: dict[str, object] = {"label": label, "is_place": form.is_valid() and form.cleaned_data["day"] in week.days}
    if not context["is_place"]:
        get_week(viewer, monday)
        return render(request, "sessions/week/checked.html", context, status=400)
    day, starts = form.cleaned_data["day"], form.cleaned_data["starts"]
    context |= {"when": f"{date_format(day, 'D')} {starts:%H:%M}", "day": day.isoformat(), "starts": f"{starts:%H:%M}"}
    try:
        found = what_if_moved(viewer=viewer, monday=monday, demand_id=demand_id, starts_at=week.at(day, starts))
    except NotFound:
        raise
    except Refused as refusal:
        return render(request, "sessions/week/checked.html", context | {"refusal": refusal})
    demand = found.demand
    context |= {"found": found, "name": session_words(demand.group.name, demand.kind, demand.also)}
    return render(request, "sessions/week/checked.html", context)


@require_GET
def since(request: HttpRequest, label: str, revision: int) -> HttpResponse:
    """Nothing as long as the week is as the page shows it; else who changed what."""
    viewer = viewer_of(request, Role.HEAD_COACH)
    week = get_week(viewer, monday_of_page(label))
    if week.revision <= revision:
        return HttpResponse(status=204)
    steps = steps_since(week=week, revision=revision)
    context = {"label": label, "lines": step_sentences(viewer=viewer, steps=steps)}
    if steps:
        context |= {"who": steps[0].by.full_name, "when": when(steps[0].at, viewer.now.tzinfo)}  # type: ignore[arg-type]
    return render(request, "sessions/week/changed.html", context)
