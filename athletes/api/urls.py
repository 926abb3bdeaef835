"""API addresses of the app that knows WHO."""

from django.urls import path

from athletes.api import permissions, sign_in

urlpatterns = [
    path("sign-in", sign_in.SignIn.as_view(), name="api-sign-in"),
    path("sign-in/second", sign_in.SecondFactor.as_view(), name="api-sign-in-second"),
    path("sign-out", sign_in.SignOut.as_view(), name="api-sign-out"),
    path("me", sign_in.Me.as_view(), name="api-me"),
    path("athletes/<uuid:athlete_id>/permissions", permissions.Permissions.as_view(), name="api-permissions"),
]
