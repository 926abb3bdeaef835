"""Signing in: the words of a password are tried, or a passkey; unknown and wrong cost the same and are told alike."""

import logging
from typing import Any

from django.contrib.auth import authenticate, login
from django.db import transaction
from django.http import HttpRequest

from athletes.core.passwords import as_typed
from athletes.core.tries import PASSWORD, PASSWORD_ELSEWHERE, PLACE
from athletes.models import Account
from athletes.services.access_log import Act, log_acts
from athletes.services.passwords import is_password
from athletes.services.second_factor import account_of_passkey, check_code, check_passkey
from athletes.services.sign_ins import own_viewer
from athletes.services.tries import counted, forget, key_of
from athletes.sign_in import may_sign_in
from teamtrack.common.clock import utc_now

HALF = "half"
HALF_FOR_S = 10 * 60
LONGEST_CODE = 12

logger = logging.getLogger(__name__)


def check_words(
    *, request: HttpRequest | None, username: str, password: str, place: str, device: str = ""
) -> Account | None:
    """The account of a user name and its password, None where either is wrong.

    `device` names a browser in which this name has signed in before: its tries are counted apart, so that nobody locks
    another out from elsewhere; of all other browsers together fewer are taken. Raises Wait where too many went wrong.
    """
    name = key_of("name", f"{device} {as_typed(username)}")
    limit = PASSWORD if device else PASSWORD_ELSEWHERE
    with counted({name: limit, key_of("place", place): PLACE}) as one:
        account = authenticate(request, username=username, password=password)
        one.was_right = account is not None
    if account is None:
        logger.warning("a sign-in was refused", extra={"code": "SIGN_IN_REFUSED"})
        return None
    forget(name)
    assert isinstance(account, Account)
    return account


def check_passkey_alone(*, credential: object, place: str) -> Account | None:
    """The account whose passkey has signed this browser's challenge; it proves two things at once: the device, and its
    owner before it."""
    with counted({key_of("place", place): PLACE}) as one:
        account = account_of_passkey(credential)
        one.was_right = (
            account is not None and may_sign_in(account) and check_passkey(account=account, credential=credential)
        )
    return account if one.was_right else None


def begin_sign_in(request: HttpRequest, account: Account, *, method: str, is_shared: bool = False) -> None:
    """Sign somebody in, in this browser, on their own phone or on another's."""
    request.is_shared_phone, request.signed_in_by = is_shared, method  # type: ignore[attr-defined]
    request.session.pop(HALF, None)
    login(request, account)
    with transaction.atomic():
        log_acts(viewer=own_viewer(account.person), acts=[Act("signed_in", "account", code=method.upper())])


def begin_half(request: HttpRequest, account: Account, *, is_shared: bool = False, leads_to: str = "") -> None:
    """The password was right and a second factor is due: until that comes nobody is signed in."""
    request.session.cycle_key()
    request.session.set_expiry(HALF_FOR_S)
    request.session[HALF] = {
        "account": account.pk, "at": utc_now().timestamp(), "shared": is_shared, "next": leads_to
    }  # fmt: skip


def half_of(request: HttpRequest) -> tuple[Account, dict[str, Any]] | None:
    """Whose second factor this browser waits for, while the password is still fresh."""
    half = request.session.get(HALF)
    if half is None or utc_now().timestamp() - half["at"] > HALF_FOR_S:
        return None
    account = Account.objects.select_related("person__club").filter(pk=half["account"]).first()
    return (account, half) if account and may_sign_in(account) else None


def is_proof(*, account: Account, typed: str, place: str, device: str = "") -> bool:
    """Whether this proves the account's owner once more: the password, or a code (figures alone: no password is that
    short). Raises Wait over a limit."""
    if typed.replace(" ", "").isdigit() and len(typed) <= LONGEST_CODE:
        return check_code(account=account, typed=typed, place=place, device=device)
    return is_password(account=account, typed=typed, place=place)
