"""Pages of one's own second factor: what is set up, an app, a passkey, recovery codes."""

from typing import Any

from allauth.mfa.adapter import get_adapter
from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as __
from django.utils.translation import gettext_lazy as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.services.second_factor import (
    Type,
    add_app,
    add_passkey,
    codes_left,
    factors_of,
    new_app_secret,
    new_passkey_challenge,
    new_recovery_codes,
    remove_factor,
)
from athletes.services.sign_ins import change_life, end_sign_ins, life_of, own_viewer, standing_factor
from athletes.sign_in_key import Unreadable, seal, unseal
from athletes.web.sign_in import credential_of
from athletes.web.step_up import proved
from teamtrack.common.clock import now_in, today_in
from teamtrack.common.errors import Refused

NEW_APP = "new_app"
KIND_WORDS = {
    Type.TOTP: _("Authenticator app"),
    Type.WEBAUTHN: _("Passkey"),
    Type.RECOVERY_CODES: _("Recovery codes"),
}


class CodeForm(forms.Form):
    """A code of the app that is set up."""

    code = forms.CharField(
        label=_("Code that the app shows"), max_length=20,
        widget=forms.TextInput({"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )  # fmt: skip


class PasskeyForm(forms.Form):
    """What the owner calls it."""

    name = forms.CharField(label=_("What do you call it?"), max_length=60)


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """What is set up, and whether the role asks for it."""
    club = request.user.person.club
    zone, begins = now_in(club.timezone).tzinfo, club.second_factor_from
    rows = factors_of(request.user)
    wanted = request.GET.get("next", "")
    is_ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, request.is_secure())
    life = life_of(request)
    is_due = life.get("factor_due", False)
    is_lost = is_due and life.get("factor_lost", False)
    context = {
        "rows": [_shown(row, zone) for row in rows],
        "has_app": any(row.type == Type.TOTP for row in rows),
        "has_factor": any(row.type != Type.RECOVERY_CODES for row in rows),
        "is_due": is_due,
        "begins": begins,
        "is_lost": is_lost,
        "may_wait": is_due and not is_lost and (begins is None or today_in(club.timezone) < begins),
        "leads_to": wanted if is_ours else "/",
    }
    return render(request, "athletes/my_factors.html", context)


def _shown(row: Any, zone: Any) -> dict[str, Any]:
    return {
        "id": row.pk,
        "kind": KIND_WORDS[Type(row.type)],
        "name": row.wrap().name if row.type == Type.WEBAUTHN else "",
        "left": codes_left(row) if row.type == Type.RECOVERY_CODES else None,
        "since": row.created_at.astimezone(zone),
        "used": row.last_used_at.astimezone(zone) if row.last_used_at else None,
    }


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@proved
def app(request: HttpRequest) -> HttpResponse:
    """An authenticator app: its secret as squares and as text, set up once a code of it is right."""
    secret = _secret_in_hand(request)
    form = CodeForm(request.POST if "code" in request.POST else None)
    if form.is_bound and form.is_valid():
        try:
            viewer = own_viewer(request.user.person)
            add_app(viewer=viewer, account=request.user, secret=secret, code=form.cleaned_data["code"])
        except Refused as refusal:
            form.add_error("code", refusal.detail)
        else:
            request.session.pop(NEW_APP, None)
            return _set_up(request, __("The app is set up. Signing in asks for its code from now on."))
    address = get_adapter().build_totp_url(request.user, secret)
    context = {"form": form, "secret": secret, "address": address}
    return render(request, "athletes/factor_app.html", context, status=400 if form.errors else 200)


def _secret_in_hand(request: HttpRequest) -> str:
    """The secret that is being set up: the same until it is, sealed in the browser's session."""
    try:
        return unseal(request.session[NEW_APP])
    except (KeyError, Unreadable):
        secret = new_app_secret()
        request.session[NEW_APP] = seal(secret)
        return secret


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@proved
def passkey(request: HttpRequest) -> HttpResponse:
    """A passkey that this browser, or a phone beside it, makes."""
    form = PasskeyForm(request.POST if "name" in request.POST else None)
    if form.is_bound and form.is_valid():
        credential = credential_of(request) or {}
        try:
            viewer, name = own_viewer(request.user.person), form.cleaned_data["name"]
            add_passkey(viewer=viewer, account=request.user, name=name, credential=credential)
        except Refused as refusal:
            form.add_error("name", refusal.detail)
        else:
            return _set_up(request, __("The passkey is set up. With it you sign in without a password."))
    context = {"form": form, "options": new_passkey_challenge(request.user)}
    return render(request, "athletes/factor_passkey.html", context, status=400 if form.errors else 200)


def _set_up(request: HttpRequest, said: str) -> HttpResponse:
    """A factor was added: others are signed out, and the first one comes with recovery codes."""
    end_sign_ins(person=request.user.person, but=request.session.session_key or "")
    change_life(request, factor_due=False)
    messages.success(request, said)
    if any(row.type == Type.RECOVERY_CODES for row in factors_of(request.user)):
        return redirect("my-factors")
    return _show_codes(request)


@require_POST
@proved
def codes(request: HttpRequest) -> HttpResponse:
    """New recovery codes, shown this once."""
    return _show_codes(request)


def _show_codes(request: HttpRequest) -> HttpResponse:
    made = new_recovery_codes(viewer=own_viewer(request.user.person), account=request.user)
    club = request.user.person.club
    context = {"codes": [f"{one[:5]} {one[5:]}" for one in made], "today": today_in(club.timezone)}
    return render(request, "athletes/factor_codes.html", context)


@require_POST
@proved
def remove(request: HttpRequest, factor: int) -> HttpResponse:
    """Take one away."""
    person = request.user.person
    remove_factor(viewer=own_viewer(person), account=request.user, factor_id=factor)
    end_sign_ins(person=person, but=request.session.session_key or "")
    change_life(request, factor_due=standing_factor(request.user))
    messages.success(request, __("Removed. You were signed out everywhere else."))
    return redirect("my-factors")
