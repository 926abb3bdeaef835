"""Pages of families: the next sessions of each child, "not coming", changes seen."""

from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from athletes.access import ASKED, athletes_and_answers
from athletes.core.permissions import Code
from athletes.models.accounts import Role
from athletes.models.permissions import Purpose
from athletes.viewer import Viewer, viewer_of
from sessions.models import Availability
from sessions.selectors.emergencies import told_of_emergencies
from sessions.selectors.family import VIEWS, Child, family
from sessions.selectors.own_plan import AHEAD
from sessions.services.record_availability import Said, record_availability
from sessions.services.see_notices import see_notice
from sessions.week_words import sport_time_words
from teamtrack.common.errors import Refused
from teamtrack.common.web.undo import offer_undo

WHY = {
    Code.PARENTAL_VIEW: gettext_lazy("because you may decide for this athlete"),
    Code.CARER_VIEW: gettext_lazy("because you care for this athlete day to day"),
    Code.ATHLETE_SHARES: gettext_lazy("because the athlete allows it"),
}
VIEW_LABELS = dict(Purpose.choices)
SCREENS = {Role.ATHLETE: "today", Role.GUARDIAN: "family"}


class AvailabilityForm(forms.Form):
    """One word about coming."""

    athlete = forms.UUIDField()
    state = forms.ChoiceField(choices=Availability.State.choices)
    option = forms.ChoiceField(choices=Availability.Option.choices, required=False)


@require_GET
def family_page(request: HttpRequest) -> HttpResponse:
    """Where is my child, and what wants my answer?"""
    return _page(request, viewer_of(request, Role.GUARDIAN))


@require_POST
def say(request: HttpRequest, role: str, session_id: UUID) -> HttpResponse:
    """Keep one word about coming, and offer to undo it."""
    viewer = viewer_of(request, role)
    form = AvailabilityForm(request.POST)
    if not form.is_valid():
        raise Refused("CHECK_FIELDS", _("That step could not be read. Nothing was changed."))
    given = form.cleaned_data
    said = record_availability(
        viewer=viewer,
        athlete_id=given["athlete"],
        training_session_id=session_id,
        state=given["state"],
        option=given["option"],
    )
    _offer_undo(request, viewer, said)
    return redirect(SCREENS[Role(role)])


@require_POST
def seen(request: HttpRequest, role: str, notice_id: UUID) -> HttpResponse:
    """Mark a change as seen: tapped, or opened on the page, which stays as it is."""
    see_notice(viewer=viewer_of(request, role), notice_id=notice_id)
    return HttpResponse(status=204) if request.htmx else redirect(SCREENS[Role(role)])


def _offer_undo(request: HttpRequest, viewer: Viewer, said: Said) -> None:
    word, before = said.word, said.before
    when = date_format(word.starts_at.astimezone(viewer.now.tzinfo), "D H:i")
    fields = {"athlete": str(word.athlete_id), "state": Availability.State.RUN.value, "option": ""}
    if before is not None:
        fields |= {"state": before.state, "option": before.option}
    text = _("%(when)s: %(state)s") % {"when": when, "state": word.get_state_display()}
    action = reverse("say-availability", args=[viewer.role, word.training_session_id])
    offer_undo(request, text=text, action=action, fields=fields)


def _page(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    children, answers = athletes_and_answers(viewer, ("plan", *VIEWS, *ASKED))
    found = family(viewer=viewer, children=children, answers=answers)
    context = {
        "children": [
            {
                "child": child,
                "views": _views(child),
                "sports": [sport_time_words(one, viewer.now.tzinfo) for one in child.sports],
            }
            for child in found
        ],
        "told": told_of_emergencies(viewer),
        "role": Role.GUARDIAN.value,
        "acting_role": Role.GUARDIAN.label,
        "now": viewer.now,
        "printed_by": viewer.person.full_name,
        "destroy_after": viewer.today + AHEAD,
        "zone": viewer.club.timezone,
    }
    return render(request, "sessions/family.html", context)


def _views(child: Child) -> list[dict[str, object]]:
    """What this guardian may see, one line a reason."""
    return [
        {"what": [VIEW_LABELS[view] for view, answer in child.views if answer.code == code], "why": why}
        for code, why in WHY.items()
        if any(answer.code == code for _view, answer in child.views)
    ]
