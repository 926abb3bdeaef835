"""Emergency access: whom to ring, pain notes opened because somebody cannot answer, and who opened which."""

from collections.abc import Callable
from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from athletes.web.step_up import proved
from sessions.selectors.emergencies import emergencies
from sessions.services.emergency_access import close_emergency, open_in_emergency, read_emergency
from sessions.services.see_notices import see_notice
from sessions.words import PLACES, SIDES
from teamtrack.common.web.forms import TypedForm

LONGEST_REASON = 200


class OpenForm(TypedForm):
    """That the athlete cannot speak, and what has happened."""

    name = "open"
    cannot_answer = forms.BooleanField(required=False, label=gettext_lazy("The athlete cannot speak now"))
    reason = forms.CharField(
        max_length=LONGEST_REASON,
        required=False,
        label=gettext_lazy("What has happened?"),
        help_text=gettext_lazy("A few words. The family, the admins and the welfare lead read them."),
        widget=forms.Textarea(attrs={"rows": 2, "autocomplete": "off"}),
    )


class WhoForm(forms.Form):
    """Whose page an admin or welfare lead goes to."""

    athlete = forms.UUIDField()


@require_safe
def page(request: HttpRequest, opener: str, athlete_id: UUID) -> HttpResponse:
    """Whom do I ring, and what do helpers have to know?"""
    return _page(request, viewer_of(request, opener), athlete_id, OpenForm())


@require_POST
def open_notes(request: HttpRequest, opener: str, athlete_id: UUID) -> HttpResponse:
    """Open the pain notes: of a coach beside the straight no proof is asked, at a desk it is."""
    asked: Callable[..., HttpResponse] = _open if opener == Role.COACH else proved(_open)
    return asked(request, opener, athlete_id)


@require_POST
def close_notes(request: HttpRequest, opener: str, athlete_id: UUID) -> HttpResponse:
    """Close them before their time."""
    close_emergency(viewer=viewer_of(request, opener), athlete_id=athlete_id)
    return redirect("emergency", opener, athlete_id)


@require_safe
def overview(request: HttpRequest, role: str) -> HttpResponse:
    """What was opened, by whom and why?"""
    viewer = viewer_of(request, role)
    form = WhoForm(request.GET)
    if form.is_valid():
        return redirect("emergency", role, form.cleaned_data["athlete"])
    context = {
        "page": emergencies(viewer),
        "seen_at": f"{role}-emergency-seen",
        "role": role,
        "acting_role": Role(role).label,
        "zone": viewer.club.timezone,
    }
    return render(request, "sessions/emergencies.html", context)


@require_POST
def seen(request: HttpRequest, role: str, notice_id: UUID) -> HttpResponse:
    """An admin or welfare lead has seen that something was opened."""
    see_notice(viewer=viewer_of(request, role), notice_id=notice_id)
    return redirect(f"{role}-emergencies")


def _open(request: HttpRequest, opener: str, athlete_id: UUID) -> HttpResponse:
    viewer, form = viewer_of(request, opener), OpenForm(request.POST)
    done, _row = form.tried(lambda said: open_in_emergency(viewer=viewer, athlete_id=athlete_id, **said))
    return redirect("emergency", opener, athlete_id) if done else _page(request, viewer, athlete_id, form)


def _page(request: HttpRequest, viewer: Viewer, athlete_id: UUID, form: OpenForm) -> HttpResponse:
    found = read_emergency(viewer=viewer, athlete_id=athlete_id)
    context = {
        "page": found,
        "notes": [
            {"note": note, "place": PLACES.get(note.place, ""), "side": SIDES.get(note.side, "")}
            for note in found.notes
        ],
        "form": form,
        "opener": viewer.role,
        "back_at": reverse(f"{viewer.role}-emergencies"),
        "acting_role": Role(viewer.role).label,
        "zone": viewer.club.timezone,
    }
    return render(request, "sessions/emergency.html", context, status=form.status)
