"""Meets: the list, one meet with who is entered in what, and the entry and travel list on paper."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.access import get_meet
from sessions.selectors.calendar_readings import may_read_files
from sessions.selectors.meets import MeetPage, groups_for_meets, meet_list, meet_page, season_to_move_in
from sessions.services.meets import (
    add_meet,
    change_meet,
    enter_athlete,
    facts_of,
    remove_meet,
    set_result,
    take_off_meet,
    withdraw_entry,
)
from sessions.web.meet_forms import EntryForm, MeetForm, OneAthleteForm, OneEntryForm, ResultForm, as_typed
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo


@require_GET
def meets_page(request: HttpRequest, planner: str) -> HttpResponse:
    """The coming meets with their closing days; a form for a new one."""
    return _list(request, _planner(request, planner))


def _planner(request: HttpRequest, planner: str) -> Viewer:
    """Whoever plans meets: the head coach, and a coach of today's groups."""
    viewer = viewer_of(request, planner)
    if not groups_for_meets(viewer):
        raise NotFound()
    return viewer


def _list(request: HttpRequest, viewer: Viewer, form: MeetForm | None = None) -> HttpResponse:
    form = form or MeetForm(zone=viewer.club.timezone, groups=groups_for_meets(viewer))
    lines = meet_list(viewer)
    shown = {
        "coming": [one for one in lines if not one.is_over],
        "gone": [one for one in reversed(lines) if one.is_over], "form": form,
        "planner": viewer.role, "zone": viewer.club.timezone,
        "may_read_files": may_read_files(viewer), "acting_role": Role(viewer.role).label,
    }  # fmt: skip
    return render(request, "sessions/meets.html", shown, status=400 if form.is_bound else 200)


@require_POST
def add(request: HttpRequest, planner: str) -> HttpResponse:
    """A new meet."""
    viewer = _planner(request, planner)
    form = MeetForm(request.POST, zone=viewer.club.timezone, groups=groups_for_meets(viewer))
    if not form.is_valid():
        return _list(request, viewer, form)
    made = add_meet(viewer=viewer, facts=form.facts, group_ids=form.cleaned_data["groups"])
    offer_undo(request, text=_("The meet is added."), action=_href("meet-remove", planner, made.pk), fields={})
    return redirect("meet", planner, made.pk)


@require_POST
def remove(request: HttpRequest, planner: str, session_id: UUID) -> HttpResponse:
    """Take back a meet that was just added."""
    if not remove_meet(viewer=_planner(request, planner), session_id=session_id):
        messages.warning(request, _("Somebody is entered already: the meet stays."))
        return redirect("meet", planner, session_id)
    return redirect("meets", planner)


@require_GET
def page(request: HttpRequest, planner: str, session_id: UUID) -> HttpResponse:
    """One meet: closing day, who is entered in what, and who is not."""
    return _meet(request, _planner(request, planner), session_id)


@require_GET
def paper(request: HttpRequest, planner: str, session_id: UUID) -> HttpResponse:
    """Entry and travel list to print."""
    viewer = _planner(request, planner)
    found = meet_page(viewer=viewer, session_id=session_id)
    ends = found.training_session.ends_at
    shown = _shown(viewer, found) | {"printed_on": viewer.now, "destroy_after": ends, "printed_by": viewer.person}
    return render(request, "sessions/meet_paper.html", shown)


def _shown(viewer: Viewer, found: MeetPage) -> dict[str, Any]:
    return {
        "page": found, "meet": found.training_session, "planner": viewer.role, "zone": viewer.club.timezone,
        "has_begun": found.training_session.starts_at <= viewer.now, "acting_role": Role(viewer.role).label,
    }  # fmt: skip


def _meet(request: HttpRequest, viewer: Viewer, session_id: UUID, **forms: Any) -> HttpResponse:
    found = meet_page(viewer=viewer, session_id=session_id)
    meet = found.training_session
    zone, groups = viewer.club.timezone, groups_for_meets(viewer)
    shown = _shown(viewer, found) | {
        "form": MeetForm(initial=as_typed(facts_of(meet), zone), zone=zone, groups=groups, is_new=False),
        "season": season_to_move_in(viewer, meet),
        "entry_form": EntryForm(people=[*found.others, *(one.athlete for one in found.entered)]),
        **forms,
    }
    return render(request, "sessions/meet.html", shown, status=400 if forms else 200)


@require_POST
def change(request: HttpRequest, planner: str, session_id: UUID) -> HttpResponse:
    """What is said of the meet; with undo."""
    viewer = _planner(request, planner)
    get_meet(viewer, session_id)
    form = MeetForm(request.POST, zone=viewer.club.timezone, groups=groups_for_meets(viewer), is_new=False)
    if not form.is_valid():
        return _meet(request, viewer, session_id, form=form)
    before = change_meet(viewer=viewer, session_id=session_id, facts=form.facts)
    fields = {name: str(value) for name, value in as_typed(before, viewer.club.timezone).items() if value is not None}
    offer_undo(request, text=_("Saved."), action=_href("meet-change", planner, session_id), fields=fields)
    return redirect("meet", planner, session_id)


@require_POST
def enter(request: HttpRequest, planner: str, session_id: UUID) -> HttpResponse:
    """Enter an athlete in an event; with undo."""
    viewer = _planner(request, planner)
    found = meet_page(viewer=viewer, session_id=session_id)
    form = EntryForm(request.POST, people=[*found.others, *(one.athlete for one in found.entered)])
    if not form.is_valid():
        return _meet(request, viewer, session_id, entry_form=form)
    entry = enter_athlete(viewer=viewer, session_id=session_id, **form.cleaned_data)
    text = _("%(name)s is entered: %(event)s.") % {"name": entry.athlete.given_name, "event": entry.event}
    action = _href("meet-withdraw", planner, session_id)
    offer_undo(request, text=text, action=action, fields={"entry": str(entry.pk)})
    return redirect("meet", planner, session_id)


@require_POST
def withdraw(request: HttpRequest, planner: str, session_id: UUID) -> HttpResponse:
    """Take out an entry, or an athlete without one; with undo."""
    viewer = _planner(request, planner)
    get_meet(viewer, session_id)
    form, athlete = OneEntryForm(request.POST), OneAthleteForm(request.POST)
    if athlete.is_valid():
        take_off_meet(viewer=viewer, session_id=session_id, **athlete.cleaned_data)
        return redirect("meet", planner, session_id)
    if not form.is_valid():
        return _meet(request, viewer, session_id, fault=_("Choose which entry. Nothing was changed."))
    gone = withdraw_entry(viewer=viewer, session_id=session_id, entry_id=form.cleaned_data["entry"])
    fields = {
        "athlete_id": str(gone.athlete_id), "event": gone.event, "own_mark": gone.own_mark,
        "minutes": str(gone.minutes or ""),
    }  # fmt: skip
    offer_undo(request, text=_("Taken out."), action=_href("meet-enter", planner, session_id), fields=fields)
    return redirect("meet", planner, session_id)


@require_POST
def result(request: HttpRequest, planner: str, session_id: UUID) -> HttpResponse:
    """How an entry went; with undo."""
    viewer = _planner(request, planner)
    get_meet(viewer, session_id)
    form = ResultForm(request.POST)
    if not form.is_valid():
        return _meet(request, viewer, session_id, fault=_("Write the result in at most 40 characters."))
    entry = form.cleaned_data["entry"]
    try:
        before = set_result(viewer=viewer, session_id=session_id, entry_id=entry, result=form.cleaned_data["result"])
    except NotFound:
        raise
    except Refused as refusal:
        return _meet(request, viewer, session_id, fault=refusal.detail)
    action = _href("meet-result", planner, session_id)
    offer_undo(request, text=_("Result saved."), action=action, fields={"entry": str(entry), "result": before})
    return redirect("meet", planner, session_id)


def _href(name: str, planner: str, session_id: UUID) -> str:
    return reverse(name, args=[planner, session_id])
