"""The addresses of the API, all of them described by its own OpenAPI document."""

from django.urls import include, path, re_path

from teamtrack.common.api.missing import Missing
from teamtrack.common.api.schema import Document

urlpatterns = [
    path("schema", Document.as_view(), name="api-schema"),
    path("", include("athletes.api.urls")),
    path("", include("sessions.api.urls")),
    re_path(r"^.*$", Missing.as_view()),
]
