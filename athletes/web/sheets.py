"""Pages of a sign-in sheet, open to whoever holds its code: the code, then user name and password, set once."""

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as __
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST

from athletes.models import SignIn, SignInSheet
from athletes.password_rules import least_length, suggested_password
from athletes.selectors.sign_in_sheets import account_of
from athletes.services.second_factor import has_factor
from athletes.services.sign_in import begin_half, begin_sign_in
from athletes.services.sign_in_sheets import sheet_by_code, suggested_username, take_sheet
from athletes.web.form_by_code import LONGEST_TYPED, opened_by_code
from athletes.web.sign_in import signed_in_answer
from teamtrack.common.errors import Refused
from teamtrack.common.web.address import place_of


class NewSignInForm(forms.Form):
    """What somebody signs in with from now on."""

    username = forms.CharField(
        label=_("User name"), min_length=3, max_length=80, strip=True,
        widget=forms.TextInput({"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
    )  # fmt: skip
    password = forms.CharField(
        label=_("New password"), max_length=200, strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )  # fmt: skip
    again = forms.CharField(
        label=_("The same once more"), max_length=200, strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )  # fmt: skip
    own = forms.BooleanField(label=_("This is my own phone or computer"), required=False)

    def clean(self) -> dict[str, object]:
        data = self.cleaned_data
        if "password" in data and "again" in data and data["password"] != data["again"]:
            self.add_error("again", _("The two differ. Type both once more."))
        return data


@opened_by_code
@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest) -> HttpResponse:
    """Type the code (the printed address brings it along after its #), then choose name and password."""
    if request.method != "POST":
        return render(request, "athletes/sheet_enter.html", {})
    try:
        sheet = sheet_by_code(typed=_code(request), place=place_of(request))
    except Refused as refusal:
        return _refused(request, refusal)
    return _choose(request, sheet, NewSignInForm(initial={"username": suggested_username(sheet.person)}))


@opened_by_code
@require_POST
def take(request: HttpRequest) -> HttpResponse:
    """Set them; the code opens nothing from then on."""
    form, typed, place = NewSignInForm(request.POST), _code(request), place_of(request)
    try:
        sheet = sheet_by_code(typed=typed, place=place)
    except Refused as refusal:
        return _refused(request, refusal)
    known = account_of(sheet.person)
    if known is not None:
        form.fields["username"].required = False
    if not form.is_valid():
        return _choose(request, sheet, form, status=400)
    given = form.cleaned_data
    try:
        account = take_sheet(typed=typed, place=place, username=given["username"], password=given["password"])
    except Refused as refusal:
        if not refusal.fields:
            return _refused(request, refusal)
        for name, sentences in refusal.fields.items():
            form.add_error(name, sentences)
        return _choose(request, sheet, form, status=400)
    if has_factor(account):
        begin_half(request, account, is_shared=not given["own"])
        return redirect("sign-in-second")
    begin_sign_in(request, account, method=SignIn.Method.SHEET, is_shared=not given["own"])
    messages.success(request, __("Done. From now on you sign in as %(name)s.") % {"name": account.username})
    return signed_in_answer(request, account, reverse("first-screen"))


def _code(request: HttpRequest) -> str:
    return request.POST.get("code", "")[:LONGEST_TYPED]


def _refused(request: HttpRequest, refusal: Refused) -> HttpResponse:
    page = render(request, "athletes/sheet_enter.html", {"fault": refusal.detail}, status=refusal.status)
    if wait_s := getattr(refusal, "wait_s", 0):
        page["Retry-After"] = str(wait_s)
    return page


def _choose(request: HttpRequest, sheet: SignInSheet, form: NewSignInForm, *, status: int = 200) -> HttpResponse:
    context = {
        "code": _code(request),
        "person": sheet.person,
        "known": account_of(sheet.person),
        "club": sheet.person.club,
        "form": form,
        "least": least_length(sheet.person),
        "suggested": suggested_password(),
    }
    return render(request, "athletes/sheet_choose.html", context, status=status)
