"""The sign-in backend: same work for unknown names and wrong passwords, demo accounts in the demo alone."""

from typing import Any

from django.conf import settings
from django.contrib.auth.backends import BaseBackend
from django.http import HttpRequest

from athletes.models import Account
from teamtrack.common.composed import Composed, Given

_ACCOUNT = Composed(lambda: Account.objects.select_related("person__club").filter(pk=Given("pk", Account._meta.pk)))


class AccountBackend(BaseBackend):
    """User name and password."""

    def authenticate(
        self, request: HttpRequest | None, username: str = "", password: str = "", **_: Any
    ) -> Account | None:
        account = Account.objects.select_related("person__club").filter(username=username).first()
        if account is None:
            Account().set_password(password)
            return None
        good = account.check_password(password)
        return account if good and may_sign_in(account) else None

    def get_user(self, user_id: Any) -> Account | None:
        account = _ACCOUNT.first(pk=user_id)
        return account if account and may_sign_in(account) else None


def may_sign_in(account: Account) -> bool:
    """Whether the account is in use; those of the invented club are in the demo alone."""
    return account.is_active and (settings.DEMO or not account.is_demo)
