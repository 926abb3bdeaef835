"""What is checked before a process serves."""

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db import connection

from teamtrack.common.serving.app_login import refuse_owner_login


def check_before_serving() -> None:
    """Refuse to serve without a secret key, or with a login that could change the access log (ImproperlyConfigured)."""
    if not settings.SECRET_KEY:
        raise ImproperlyConfigured("Give SECRET_KEY: nothing is served without it.")
    if settings.CHECK_SERVING_LOGIN:
        refuse_owner_login(connection)
        connection.close()
