"""Page of My running: what I have learnt, what I would like to stop or not see."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from athletes.core import ages
from athletes.models.accounts import Role
from athletes.selectors.marks import marks_of
from athletes.selectors.who_sees import who_sees
from athletes.viewer import viewer_of
from sessions.effort_words import FEELS, effort_words
from sessions.selectors.my_running import my_running
from sessions.services.ask_to_stop import ask_to_stop
from sessions.services.hide_line import hide_line
from sessions.words import SHOWN_WITHIN
from teamtrack.common.errors import Refused
from teamtrack.common.web.undo import offer_undo


class StopForm(forms.Form):
    """Which point the athlete would like to stop, or not after all."""

    feature = forms.UUIDField()
    ask = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")])


class HideForm(forms.Form):
    """Which line leaves the page, or comes back."""

    entry = forms.UUIDField()
    hide = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")])


@require_GET
def my_running_page(request: HttpRequest) -> HttpResponse:
    """Points held, in hand, own words beside the coach's, who can see this."""
    viewer = viewer_of(request, Role.ATHLETE)
    born = viewer.person.birth_date
    age = ages.age_on(born, viewer.today) if born else None
    context = {
        "running": my_running(viewer),
        "me": viewer.person_id,
        "marks": marks_of(viewer=viewer, athlete=viewer.person),
        "sees": who_sees(viewer=viewer, purpose="feedback"),
        "shown_words": SHOWN_WITHIN,
        "feel_words": FEELS,
        "effort_words": effort_words(is_under_13=ages.is_under_13(age)),
        "acting_role": Role.ATHLETE.label,
        "zone": viewer.club.timezone,
    }
    return render(request, "sessions/my_running.html", context)


@require_POST
def ask_to_stop_point(request: HttpRequest) -> HttpResponse:
    """Tell the coach that the athlete would like to stop a point, and offer to undo it."""
    viewer = viewer_of(request, Role.ATHLETE)
    given = StopForm(request.POST)
    if not given.is_valid():
        raise Refused("CHECK_FIELDS", _("That step could not be read. Nothing was changed."))
    is_asked = given.cleaned_data["ask"] == "yes"
    feature = ask_to_stop(viewer=viewer, feature_id=given.cleaned_data["feature"], is_asked=is_asked)
    text = _("%(point)s: your coach is told") if is_asked else _("%(point)s: taken back")
    offer_undo(
        request,
        text=text % {"point": feature.label},
        action=reverse("ask-to-stop"),
        fields={"feature": str(feature.pk), "ask": "no" if is_asked else "yes"},
    )
    return redirect("my-running")


@require_POST
def hide(request: HttpRequest) -> HttpResponse:
    """Put a line out of sight or bring it back, and offer to undo it."""
    viewer = viewer_of(request, Role.ATHLETE)
    given = HideForm(request.POST)
    if not given.is_valid():
        raise Refused("CHECK_FIELDS", _("That step could not be read. Nothing was changed."))
    entry, is_hidden = given.cleaned_data["entry"], given.cleaned_data["hide"] == "yes"
    hide_line(viewer=viewer, entry_id=entry, is_hidden=is_hidden)
    offer_undo(
        request,
        text=_("Hidden on your page") if is_hidden else _("Shown again"),
        action=reverse("hide-line"),
        fields={"entry": str(entry), "hide": "no" if is_hidden else "yes"},
    )
    return redirect("my-running")
