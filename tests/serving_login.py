"""The login that serves, made for the test database: a block of a test connects as it, as servers do."""

import secrets
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction

from teamtrack.common.serving.app_login import AppLogin, make_app_login


@contextmanager
def serving_login() -> Iterator[str]:
    """Connect with a serving login of its own; gone afterwards. Needs committed rows (`transaction=True`)."""
    login = AppLogin(name=f"serves_{secrets.token_hex(4)}", password=secrets.token_urlsafe(16))
    with transaction.atomic():
        make_app_login(connection, login)
    owner = {name: connection.settings_dict[name] for name in ("USER", "PASSWORD")}
    _connect_as({"USER": login.name, "PASSWORD": login.password})
    try:
        yield login.name
    finally:
        _connect_as(owner)
        with connection.cursor() as cursor:
            cursor.execute(f'DROP OWNED BY "{login.name}"')
            cursor.execute(f'DROP ROLE "{login.name}"')


def _connect_as(login: dict[str, str]) -> None:
    connection.close()
    connection.settings_dict.update(login)
