"""A check of the database's login: `manage.py check --database default --tag database`, run with the serving login."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from teamtrack.common.serving.app_login import WHAT_TO_DO, login_fault


@register(Tags.database)
def serving_login(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """An error where the login that serves could pass row security by, or change the access log.

    Commands that migrate run as the owner, who serves nobody: they are not checked.
    """
    if not settings.CHECK_SERVING_LOGIN:
        return []
    faults = (login_fault(connections[alias]) for alias in databases or ())
    return [Error(fault, hint=WHAT_TO_DO, id="teamtrack.E001") for fault in faults if fault]
