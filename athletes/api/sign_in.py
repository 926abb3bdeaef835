"""API doorway of signing in and out."""

from django.contrib.auth import logout
from django.utils.decorators import method_decorator
from django.utils.translation import gettext_lazy as _
from django.views.decorators.csrf import csrf_protect, ensure_csrf_cookie
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from athletes.models import SignIn as SignInRow
from athletes.services.second_factor import check_code, has_factor
from athletes.services.sign_in import begin_half, begin_sign_in, check_words, half_of
from athletes.viewer import viewer_of
from teamtrack.common.api.document import refusals
from teamtrack.common.api.serializers import StrictSerializer, no_body, no_query
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.address import place_of
from teamtrack.common.web.known_device import device_for, remember_device

Method = SignInRow.Method


class SecondFactorNeeded(Refused):
    """The password was right; a code is due."""

    status = 401

    def __init__(self) -> None:
        super().__init__("SECOND_FACTOR_NEEDED", _("Your password is right. Now send the code of your app."))


class SignInInput(StrictSerializer):
    username = serializers.CharField(max_length=80, trim_whitespace=False)
    password = serializers.CharField(max_length=200, trim_whitespace=False)


class SecondInput(StrictSerializer):
    code = serializers.CharField(max_length=20)


class WhoOutput(serializers.Serializer):
    person = serializers.UUIDField()
    roles = serializers.ListField(child=serializers.CharField())


def who(request: Request) -> dict[str, object]:
    """Who is signed in; no role where somebody's part in the club has ended or has not begun."""
    try:
        roles = viewer_of(request._request).roles
    except NotFound:
        roles = ()
    return {"person": request._request.user.person_id, "roles": list(roles)}


@method_decorator(csrf_protect, name="dispatch")
class SignIn(APIView):
    """Sign in with user name and password."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(responses={204: None})
    @method_decorator(ensure_csrf_cookie)
    def get(self, request: Request) -> Response:
        """Set the cookie whose value every unsafe request carries."""
        no_query(request)
        return Response(status=204)

    @extend_schema(request=SignInInput, responses={200: WhoOutput} | refusals(401, 429))
    def post(self, request: Request) -> Response:
        """Unknown name and wrong password answer alike."""
        no_query(request)
        given = SignInInput(data=request.data)
        given.is_valid(raise_exception=True)
        browser, name = request._request, given.validated_data["username"]
        place, device = place_of(browser), device_for(browser, name)
        account = check_words(request=browser, place=place, device=device, **given.validated_data)
        if account is None:
            raise Refused("SIGN_IN_REFUSED", _("User name or password is not right. Nothing else was changed."))
        if has_factor(account):
            begin_half(browser, account)
            raise SecondFactorNeeded()
        begin_sign_in(browser, account, method=Method.PASSWORD)
        return _signed_in(request, name)


def _signed_in(request: Request, name: str) -> Response:
    answer = Response(WhoOutput(who(request)).data)
    remember_device(request._request, answer, name)
    return answer


@method_decorator(csrf_protect, name="dispatch")
class SecondFactor(APIView):
    """The second factor after a right password."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(request=SecondInput, responses={200: WhoOutput} | refusals(429))
    def post(self, request: Request) -> Response:
        """A code of the app, or a recovery code; either counts once."""
        no_query(request)
        given = SecondInput(data=request.data)
        given.is_valid(raise_exception=True)
        half = half_of(request._request)
        if half is None:
            raise Refused("SIGN_IN_REFUSED", _("Send user name and password first. Nothing else was changed."))
        account, said = half
        place, device = place_of(request._request), device_for(request._request, account.username)
        if not check_code(account=account, typed=given.validated_data["code"], place=place, device=device):
            raise Refused("SIGN_IN_REFUSED", _("This code is not right, or it was used. Nothing else was changed."))
        begin_sign_in(request._request, account, method=Method.FACTOR, is_shared=said["shared"])
        return _signed_in(request, account.username)


class SignOut(APIView):
    """End this sign-in."""

    never_answers = {404}

    @extend_schema(request=None, responses={204: None})
    def post(self, request: Request) -> Response:
        no_query(request)
        no_body(request)
        logout(request._request)
        return Response(status=204)


class Me(APIView):
    """Who is signed in."""

    never_answers = {404}

    @extend_schema(responses=WhoOutput)
    def get(self, request: Request) -> Response:
        no_query(request)
        return Response(WhoOutput(who(request)).data)
