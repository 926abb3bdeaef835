"""One's own sign-in: where one is signed in, ending it there, another password."""

from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as __
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.password_rules import least_length, suggested_password
from athletes.selectors.sign_in_sheets import own_sign_ins, waiting_sheets
from athletes.services.passwords import change_password
from athletes.services.sign_in_sheets import revoke_sheet
from athletes.services.sign_ins import end_sign_in, end_sign_ins, follow_session, read_signed_out
from athletes.viewer import left_with, viewer_of
from athletes.web.step_up import proved
from teamtrack.common.clock import now_in
from teamtrack.common.errors import Refused
from teamtrack.common.web.address import place_of


class PasswordForm(forms.Form):
    """The old password and a new one."""

    old = forms.CharField(
        label=_("Password until now"), max_length=200, strip=False,
        widget=forms.PasswordInput({"autocomplete": "current-password"}),
    )  # fmt: skip
    new = forms.CharField(
        label=_("New password"), max_length=200, strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )  # fmt: skip
    again = forms.CharField(
        label=_("The same once more"), max_length=200, strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )  # fmt: skip

    def clean(self) -> dict[str, object]:
        data = self.cleaned_data
        if "new" in data and "again" in data and data["new"] != data["again"]:
            self.add_error("again", _("The two differ. Type both once more."))
        return data


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """Where one is signed in, and sheets that wait."""
    person = request.user.person
    now = now_in(person.club.timezone)
    zone = now.tzinfo
    key = request.session.session_key
    rows = [
        {
            "row": row, "is_this": row.session_key == key, "seen_at": row.seen_at.astimezone(zone),
            "began_at": row.began_at.astimezone(zone),
        }
        for row in own_sign_ins(person)
    ]  # fmt: skip
    context = {
        "rows": rows, "others": sum(not one["is_this"] for one in rows), "sheets": waiting_sheets(person),
        "account": request.user, "zone": zone, "left_with": left_with(person, now.date()),
    }  # fmt: skip
    return render(request, "athletes/my_sign_ins.html", context)


@require_POST
@proved
def end(request: HttpRequest, sign_in_id: UUID) -> HttpResponse:
    """End one of them."""
    end_sign_in(person=request.user.person, sign_in_id=sign_in_id)
    messages.success(request, __("Ended. Whoever uses it has to sign in again."))
    return redirect("my-sign-ins")


@require_POST
@proved
def end_others(request: HttpRequest) -> HttpResponse:
    """End all but this one."""
    ended = end_sign_ins(person=request.user.person, but=request.session.session_key or "")
    said = ngettext("%(count)d sign-in was ended.", "%(count)d sign-ins were ended.", ended) % {"count": ended}
    messages.success(request, said)
    return redirect("my-sign-ins")


@require_POST
def read(request: HttpRequest) -> HttpResponse:
    """That an admin ended all sign-ins was read."""
    read_signed_out(account=request.user)
    return redirect("my-sign-ins")


@require_POST
def stop_sheet(request: HttpRequest, sheet_id: UUID) -> HttpResponse:
    """A sheet for one's own sign-in that one does not want: it opens nothing any more."""
    revoke_sheet(viewer=viewer_of(request), sheet_id=sheet_id)
    messages.success(request, __("Stopped. That sheet opens nothing any more."))
    return redirect("my-sign-ins")


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def password(request: HttpRequest) -> HttpResponse:
    """Another password; every other sign-in ends."""
    form = PasswordForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and _is_changed(request, form):
        messages.success(request, __("Your password is changed. You were signed out everywhere else."))
        return redirect("my-sign-ins")
    context = {"form": form, "least": least_length(request.user.person), "suggested": suggested_password()}
    return render(request, "athletes/my_password.html", context, status=400 if form.errors else 200)


def _is_changed(request: HttpRequest, form: PasswordForm) -> bool:
    given, before = form.cleaned_data, request.session.session_key or ""
    try:
        change_password(
            account=request.user, old=given["old"], new=given["new"], place=place_of(request), session_key=before
        )
    except Refused as refusal:
        for name, sentences in (refusal.fields or {"old": [refusal.detail]}).items():
            form.add_error(name, sentences)
        return False
    update_session_auth_hash(request, request.user)
    follow_session(person=request.user.person, before=before, after=request.session.session_key or "")
    return True
