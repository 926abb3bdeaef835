"""What pages about people share: a step done is offered to be undone, and undone from the bar or from the list."""

from urllib.parse import urlsplit
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from athletes.models import PeopleStep
from athletes.models.accounts import Role
from athletes.services.steps import undo_step
from athletes.viewer import viewer_of
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo

UNDO = {Role.ADMIN: "step-undo", Role.HEAD_COACH: "head-coach-step-undo"}


class UndoForm(forms.Form):
    """Which step, and which page it was done on."""

    step = forms.UUIDField()
    back = forms.CharField(max_length=200)


def did(request: HttpRequest, step: PeopleStep | None, *, said: str, role: str, back: str) -> HttpResponse:
    """Back to the page, with the offer to undo; a step that changed nothing says so."""
    if step is None:
        messages.success(request, _("It was so already: nothing was changed."))
    else:
        fields = {"step": str(step.pk), "back": back}
        offer_undo(request, text=said, action=reverse(UNDO[Role(role)]), fields=fields)
    return redirect(back)


@require_POST
def undo(request: HttpRequest, role: str) -> HttpResponse:
    """Take a step back; where that is no longer possible, the page says why."""
    viewer = viewer_of(request, role)
    form = UndoForm(request.POST)
    if not form.is_valid():
        raise Refused("CHECK_FIELDS", _("That step could not be read. Nothing was changed."))
    step_id: UUID = form.cleaned_data["step"]
    try:
        if undo_step(viewer=viewer, step_id=step_id):
            messages.success(request, _("Taken back; nothing is kept of who came with it."))
            return redirect("roster")
    except NotFound:
        raise
    except Refused as refusal:
        messages.error(request, refusal.detail)
    else:
        messages.success(request, _("Taken back."))
    return redirect(_own_page(form.cleaned_data["back"], role))


def _own_page(back: str, role: str) -> str:
    """A page of the role, on this server; else its first one."""
    prefix = f"/{role.replace('_', '-')}/"
    parts = urlsplit(back)
    is_own = not (parts.scheme or parts.netloc) and parts.path.startswith(prefix) and "//" not in parts.path
    return parts.path if is_own else reverse("first-screen")
