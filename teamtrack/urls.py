"""Every address of the server; the apps' own lists are joined here."""

from django.conf import settings
from django.urls import include, path

from teamtrack.common.web import health, phone
from teamtrack.common.web.gallery import gallery

urlpatterns = [
    path("healthz", health.healthz, name="healthz"),
    path("readyz", health.readyz, name="readyz"),
    path("sw.js", phone.service_worker, name="service-worker"),
    path("needs-signal", phone.needs_signal, name="needs-signal"),
    path("api/v1/", include("teamtrack.api_urls")),
    path("", include("athletes.web.urls")),
    path("", include("sessions.web.urls")),
]
if settings.DEMO or settings.DEBUG:
    urlpatterns.append(path("components", gallery, name="gallery"))

handler500 = "teamtrack.common.web.errors.server_fault"
handler404 = "teamtrack.common.web.errors.not_found"
