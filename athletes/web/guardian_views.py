"""What guardians may see: the athlete's own word about it, a yes and a no alike."""

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.selectors.guardian_views import ABOUT_GUARDIAN, View
from athletes.services.answer_view import answer_view, take_back_view
from athletes.viewer import viewer_on_own_data
from teamtrack.common.web.undo import offer_undo

LABELS = {
    "plan": gettext_lazy("when and where you train"),
    "availability": gettext_lazy("whether you come"),
    "record": gettext_lazy("your groups, and whether you came"),
    "feedback": gettext_lazy("what coaches noted about your running"),
    "health": gettext_lazy("where it hurts"),
    "message": gettext_lazy("notices to you"),
    "audit": gettext_lazy("who looked at things about you"),
    "copy": gettext_lazy("take a copy of what is kept about you"),
    "erasure": gettext_lazy("have things about you taken away"),
}
DEEDS = {"copy", "erasure"}


class ViewForm(forms.Form):
    """A yes or a no to one thing about one guardian."""

    guardian = forms.UUIDField()
    what = forms.ChoiceField(choices=[(what.value, what.label) for what in ABOUT_GUARDIAN])
    answer = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")])


class TakeBackForm(forms.Form):
    """Which answer is undone."""

    event = forms.UUIDField()


@require_POST
def answer(request: HttpRequest) -> HttpResponse:
    """Record what one guardian may see, or may not."""
    viewer = viewer_on_own_data(request, Role.ATHLETE)
    form = ViewForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("That answer could not be read. Nothing was changed."))
        return redirect("athlete-permissions")
    given = form.cleaned_data
    event = answer_view(viewer=viewer, guardian_id=given["guardian"], what=given["what"], answer=given["answer"])
    name = event.about_guardian.full_name if event.about_guardian else ""
    said = {"name": name, "what": LABELS[given["what"]], "answer": event.get_answer_display()}
    offer_undo(
        request,
        text=_("%(name)s, %(what)s: %(answer)s") % said,
        action=reverse("guardian-view-take-back"),
        fields={"event": str(event.pk)},
    )
    return redirect(reverse("athlete-permissions") + "#guardians")


@require_POST
def take_back(request: HttpRequest) -> HttpResponse:
    """Undo the last answer about a guardian."""
    viewer = viewer_on_own_data(request, Role.ATHLETE)
    form = TakeBackForm(request.POST)
    if form.is_valid():
        take_back_view(viewer=viewer, event_id=form.cleaned_data["event"])
    else:
        messages.error(request, _("That step could not be read. Nothing was changed."))
    return redirect(reverse("athlete-permissions") + "#guardians")


def item(view: View, *, to_child: bool) -> dict[str, object]:
    """One line of the page: what, whether, why."""
    return {
        "view": view,
        "label": LABELS[view.what],
        "is_deed": view.what in DEEDS,
        "why": sentence_for(view.answer.code, to_child=to_child),
    }
