"""Mend: mark a venue or a coach for a day, see the fewest moves, take them over and publish in one go."""

from datetime import date
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.dateparse import parse_date
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from athletes.models.accounts import Role
from athletes.viewer import viewer_of
from sessions.access import get_session_to_run, get_week
from sessions.selectors.coaches_out import coaches_out
from sessions.selectors.mending import mending_of
from sessions.services.apply_change import Applied, apply_change
from sessions.services.mend_week import accept_and_publish, close_venue, excuse_coach
from sessions.services.move_session import move_session_back
from sessions.web.week import draft_page, monday_of_page, revision_of, tell_published
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo


@require_GET
def mend_page(request: HttpRequest, label: str) -> HttpResponse:
    """Each venue and each coach by day: one tap marks it; on top a coach who said so, where the address names one."""
    viewer = viewer_of(request, Role.HEAD_COACH)
    week = get_week(viewer, monday_of_page(label))
    context = {"label": label, "found": mending_of(viewer=viewer, week=week), "zone": viewer.club.timezone}
    asked = (label, request.GET.get("coach", ""), request.GET.get("day", ""))
    if asked[1]:
        out = coaches_out(viewer)
        context["marked"] = next((one for one in out if (one.week, str(one.coach.pk), f"{one.day}") == asked), None)
    return render(request, "sessions/week/mend.html", context)


@require_POST
def mark_venue(request: HttpRequest, label: str, venue_id: UUID) -> HttpResponse:
    """Closed that day, or open again."""
    close_venue(
        viewer=viewer_of(request, Role.HEAD_COACH), monday=monday_of_page(label), venue_id=venue_id,
        day=_day(request), is_closed=request.POST.get("open") != "yes",
    )  # fmt: skip
    return _to_proposal(label)


@require_POST
def mark_coach(request: HttpRequest, label: str, coach_id: UUID) -> HttpResponse:
    """Cannot come that day, or can after all."""
    excuse_coach(
        viewer=viewer_of(request, Role.HEAD_COACH), monday=monday_of_page(label), coach_id=coach_id,
        day=_day(request), is_away=request.POST.get("open") != "yes",
    )  # fmt: skip
    return _to_proposal(label)


@require_POST
def publish_all(request: HttpRequest, label: str, proposal_id: UUID) -> HttpResponse:
    """Take all moves over and publish: both or neither."""
    viewer = viewer_of(request, Role.HEAD_COACH)
    try:
        done = accept_and_publish(viewer=viewer, proposal_id=proposal_id, revision=revision_of(request))
    except NotFound:
        raise
    except Refused as refusal:
        return draft_page(request, label, refusal)
    tell_published(request, label, done)
    return redirect("head-coach-week", label)


@require_POST
def apply(request: HttpRequest, label: str, proposal_id: UUID) -> HttpResponse:
    """Make the one change that would give a session its place, and ask again."""
    demand, _, number = request.POST.get("change", "").rpartition(":")
    if not number.isdecimal():
        raise NotFound()
    viewer = viewer_of(request, Role.HEAD_COACH)
    try:
        applied = apply_change(viewer=viewer, proposal_id=proposal_id, demand=demand, number=int(number))
    except NotFound:
        raise
    except Refused as refusal:
        return draft_page(request, label, refusal)
    _offer_undo(request, label, applied)
    return _to_proposal(label)


def _offer_undo(request: HttpRequest, label: str, applied: Applied) -> None:
    """Ten seconds to take back that a published session was moved or called off."""
    touched, before = applied.training_session, applied.before
    if touched is not None and before is not None:
        fields = {"starts_at": before.isoformat(), "moved_at": touched.changed_at.isoformat(), "label": label}
        action = reverse("head-coach-move-back", args=[touched.pk])
        offer_undo(
            request, text=gettext("The session is moved; whom it concerns is told."), action=action, fields=fields
        )
    elif touched is not None:
        action = reverse("head-coach-call-on", args=[touched.pk])
        text = gettext("The session is called off; whom it concerns is told.")
        offer_undo(request, text=text, action=action, fields={})


class MoveBackForm(forms.Form):
    """From where a session was moved, and when; the week from which that was done."""

    starts_at = forms.DateTimeField()
    moved_at = forms.DateTimeField()
    label = forms.RegexField(r"^\d{4}-W\d{2}$")


@require_POST
def move_back(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """Take back that a published session was moved."""
    viewer = viewer_of(request, Role.HEAD_COACH)
    get_session_to_run(viewer, session_id)
    form = MoveBackForm(request.POST)
    if not form.is_valid():
        raise Refused("CHECK_FIELDS", gettext("This page is out of date. Nothing was changed."))
    given = form.cleaned_data
    try:
        move_session_back(
            viewer=viewer, session_id=session_id, starts_at=given["starts_at"], moved_at=given["moved_at"]
        )
    except Refused as refusal:
        return draft_page(request, given["label"], refusal)
    messages.info(request, gettext("The session is where it was. Whoever knew of the move is told."))
    return redirect("head-coach-week", given["label"])


def _day(request: HttpRequest) -> date:
    try:
        found = parse_date(request.POST.get("day", ""))
    except ValueError:
        found = None
    if found is None:
        raise NotFound()
    return found


def _to_proposal(label: str) -> HttpResponse:
    return redirect(reverse("head-coach-week", args=[label]) + "#proposal")
