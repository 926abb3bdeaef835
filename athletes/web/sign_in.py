"""Pages of signing in and out (password, second factor, passkey), and the way to one's first screen."""

import json
from typing import Any

from django import forms
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.decorators import method_decorator
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.utils.translation import gettext as __
from django.utils.translation import gettext_lazy as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from athletes.models import Account
from athletes.models import SignIn as SignInRow
from athletes.services.second_factor import Type, check_code, check_passkey, factors_of, has_factor, passkey_challenge
from athletes.services.sign_in import HALF_FOR_S, begin_half, begin_sign_in, check_passkey_alone, check_words, half_of
from athletes.services.sign_ins import life_of
from athletes.services.tries import Wait
from athletes.viewer import left_with, viewer_of
from athletes.web.context import navigation
from teamtrack.common.clock import today_in
from teamtrack.common.errors import NotFound
from teamtrack.common.web.address import place_of
from teamtrack.common.web.known_device import device_for, remember_device

Method = SignInRow.Method
LONGEST_CODE = 20


class SignInForm(forms.Form):
    """User name and password; unknown and wrong are refused alike."""

    username = forms.CharField(
        label=_("User name"),
        max_length=80,
        widget=forms.TextInput({"autocomplete": "username", "autocapitalize": "none"}),
    )
    password = forms.CharField(
        label=_("Password"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "current-password"}),
    )
    shared = forms.BooleanField(label=_("This is not my phone"), required=False)

    def __init__(self, request: HttpRequest | None = None, *args: object, **kwargs: object) -> None:
        self.request, self.account, self.wait = request, None, None
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, object]:
        data = self.cleaned_data
        if "username" in data and "password" in data:
            self.account = self._account(data["username"], data["password"])
        return data

    def _account(self, username: str, password: str) -> Account:
        assert self.request is not None
        device = device_for(self.request, username)
        try:
            account = check_words(
                request=self.request, username=username, password=password, place=place_of(self.request), device=device
            )
        except Wait as wait:
            self.wait = wait
            raise forms.ValidationError(wait.detail) from wait
        if account is None:
            raise forms.ValidationError(
                _("User name or password is not right. Try again, or ask your club for a new sheet.")
            )
        return account

    def get_user(self) -> Account | None:
        return self.account


@method_decorator(sensitive_post_parameters("password"), name="dispatch")
class SignIn(LoginView):
    """The page for signing in."""

    template_name = "athletes/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_redirect_url(self) -> str:
        """Where somebody wanted to go; whoever wanted to sign out, when that had happened by itself, to the start."""
        wanted = super().get_redirect_url()
        return "" if wanted == reverse("sign-out") else wanted

    def form_valid(self, form: SignInForm) -> HttpResponse:
        account, is_shared = form.get_user(), form.cleaned_data["shared"]
        assert account is not None
        if has_factor(account):
            begin_half(self.request, account, is_shared=is_shared, leads_to=self.get_redirect_url())
            return redirect("sign-in-second")
        begin_sign_in(self.request, account, method=Method.PASSWORD, is_shared=is_shared)
        return signed_in_answer(self.request, account, self.get_success_url())

    def form_invalid(self, form: SignInForm) -> HttpResponse:
        page = super().form_invalid(form)
        if form.wait is not None:
            page.status_code, page["Retry-After"] = form.wait.status, str(form.wait.wait_s)
        return page


def signed_in_answer(request: HttpRequest, account: Account, leads_to: str) -> HttpResponse:
    """Onward: by way of the second factor where the role asks for one; one's own browser is known from now on."""
    if life_of(request).get("factor_due"):
        leads_to = f"{reverse('my-factors')}?{urlencode({'next': leads_to})}"
    answer = redirect(leads_to)
    if not life_of(request).get("shared"):
        remember_device(request, answer, account.username)
    return answer


@sensitive_post_parameters()
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def second(request: HttpRequest) -> HttpResponse:
    """The second factor after the password: a code, a recovery code or a passkey."""
    half = half_of(request)
    if half is None:
        return redirect("sign-in")
    account, said = half
    if request.method != "POST":
        return _second_page(request, account)
    try:
        is_right = _is_second(request, account)
    except Wait as wait:
        return _second_page(request, account, wait.detail, status=wait.status, wait_s=wait.wait_s)
    if not is_right:
        return _second_page(request, account, __("This is not right, or it was used. Try the next code."), status=400)
    begin_sign_in(request, account, method=Method.FACTOR, is_shared=said["shared"])
    return signed_in_answer(request, account, said["next"] or reverse("first-screen"))


def _is_second(request: HttpRequest, account: Account) -> bool:
    if credential := credential_of(request):
        return check_passkey(account=account, credential=credential)
    typed, device = request.POST.get("code", "")[:LONGEST_CODE], device_for(request, account.username)
    return check_code(account=account, typed=typed, place=place_of(request), device=device)


def _second_page(
    request: HttpRequest, account: Account, fault: str = "", *, status: int = 200, wait_s: int = 0
) -> HttpResponse:
    kinds = {one.type for one in factors_of(account)}
    context = {
        "fault": fault,
        "has_app": Type.TOTP in kinds,
        "options": passkey_challenge(account) if Type.WEBAUTHN in kinds else None,
    }
    page = render(request, "athletes/sign_in_second.html", context, status=status)
    page["Cache-Control"] = "no-store"
    if wait_s:
        page["Retry-After"] = str(wait_s)
    return page


@sensitive_post_parameters()
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def by_passkey(request: HttpRequest) -> HttpResponse:
    """What the browser asks its passkeys (GET), and the one that answered (POST): no user name, no password."""
    if request.method != "POST":
        if not request.user.is_authenticated:
            request.session.set_expiry(HALF_FOR_S)
        answer = JsonResponse(passkey_challenge())
        answer["Cache-Control"] = "no-store"
        return answer
    try:
        account = check_passkey_alone(credential=credential_of(request), place=place_of(request))
        fault = __("This passkey does not open an account here. Try again, or use your password.")
    except Wait as wait:
        account, fault = None, wait.detail
    if account is None:
        form = SignInForm(request)
        return render(request, "athletes/sign_in.html", {"form": form, "fault": fault}, status=400)
    wanted = request.POST.get("next", "")
    is_ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, request.is_secure())
    begin_sign_in(request, account, method=Method.PASSKEY)
    return signed_in_answer(request, account, wanted if is_ours else reverse("first-screen"))


def credential_of(request: HttpRequest) -> Any:
    """What the browser's passkey answered, None where nothing that can be read came."""
    try:
        found = json.loads(request.POST.get("credential", ""))
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End this sign-in and lead back to the page for signing in."""
    logout(request)
    answer = redirect("sign-in")
    answer["Clear-Site-Data"] = '"cache"'
    return answer


def first_screen(request: HttpRequest) -> HttpResponse:
    """Lead the signed-in person to the first screen of the navigation; who has none is told so, and whom to ask."""
    try:
        viewer = viewer_of(request)
    except NotFound:
        person = request.user.person
        left = left_with(person, today_in(person.club.timezone))
        return render(request, "athletes/no_part.html", {"left_with": left})
    return redirect(navigation(viewer)[0].href)
