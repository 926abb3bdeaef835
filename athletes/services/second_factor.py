"""The second factor: an authenticator app, passkeys, recovery codes. The kept library knows the protocols (RFC 6238,
WebAuthn); here stand who needs one, that a code counts once in whichever process, and what the access log tells."""

from collections.abc import Collection
from typing import Any

from allauth.core.internal.cryptokit import compare_user_code
from allauth.mfa.adapter import get_adapter
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal import auth as totp
from allauth.mfa.webauthn.internal import auth as webauthn
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from athletes.core import ages
from athletes.core.sign_in_times import asks_second_factor
from athletes.core.tries import PLACE, SECOND_CODE, SECOND_CODE_KNOWN
from athletes.models import Account, UsedCode
from athletes.services.access_log import Act, log_acts
from athletes.services.tries import counted, forget, key_of
from athletes.viewer import Viewer
from teamtrack.common.clock import today_in
from teamtrack.common.errors import NotFound, Refused

Type = Authenticator.Type
STEPS_KEPT = 10
"""Steps of 30 seconds for which a used code is remembered: three hold at a time."""


def factors_of(account: Account) -> list[Authenticator]:
    """What the owner has set up, oldest first."""
    return list(Authenticator.objects.filter(user=account).order_by("created_at", "pk"))


def has_factor(account: Account) -> bool:
    """Whether signing in by password asks for a second factor."""
    return Authenticator.objects.filter(user=account, type__in=(Type.TOTP, Type.WEBAUTHN)).exists()


def is_due(account: Account, roles: Collection[str]) -> bool:
    """Whether the roles ask for a second factor and none is set up; the invented club's accounts need none."""
    born = account.person.birth_date
    age = None if born is None else ages.age_on(born, today_in(account.person.club.timezone))
    return not account.is_demo and asks_second_factor(roles, age=age) and not has_factor(account)


def check_code(*, account: Account, typed: str, place: str, device: str = "") -> bool:
    """Whether this is a code of the app, or a recovery code that was not used; either counts once.

    `device` names a browser in which the owner has signed in before: its tries are counted apart, so that whoever has
    the password does not keep the owner out from elsewhere. Raises Wait where too many went wrong: in all other
    browsers together after five, and then for all but one in a quarter of an hour.
    """
    key = key_of("factor", f"{device} {account.pk}")
    limit = SECOND_CODE_KNOWN if device else SECOND_CODE
    with counted({key: limit, key_of("place", place): PLACE}) as one:
        one.was_right = any(_is_right(row, typed) for row in factors_of(account) if row.type != Type.WEBAUTHN)
    if one.was_right:
        forget(key)
    return one.was_right


def check_passkey(*, account: Account, credential: object) -> bool:
    """Whether a passkey of this account has signed the challenge that this browser was given."""
    try:
        webauthn.parse_authentication_response(credential)
        row = webauthn.complete_authentication(account, credential)  # type: ignore[arg-type]
    except (ValidationError, ValueError, TypeError, KeyError, AttributeError):
        return False
    row.record_usage()
    return True


def account_of_passkey(credential: object) -> Account | None:
    """Whose passkey it says that it is; nothing is proved by that."""
    try:
        found = webauthn.extract_user_from_response(credential)  # type: ignore[arg-type]
    except (ValidationError, ValueError, TypeError, KeyError, AttributeError):
        return None
    return Account.objects.select_related("person__club").get(pk=found.pk)


def passkey_challenge(account: Account | None = None) -> dict[str, Any]:
    """What the browser asks its passkeys, for one account or for whichever they know; kept in the session."""
    return webauthn.begin_authentication(account)


def new_passkey_challenge(account: Account) -> dict[str, Any]:
    """What the browser is to make a passkey for; kept in the session."""
    return webauthn.begin_registration(account, True)


def new_app_secret() -> str:
    """A secret for an authenticator app (160 bits, RFC 4226 section 4)."""
    return totp.generate_totp_secret()


@transaction.atomic
def add_app(*, viewer: Viewer, account: Account, secret: str, code: str) -> None:
    """Set up an app whose code is right; raises Refused where it is not, or where there is one already."""
    step = _step_of(secret, code)
    if step is None:
        raise Refused("WRONG_CODE", _("This code is not right. Wait for the next one and type that. Nothing was set."))
    if Authenticator.objects.filter(user=account, type=Type.TOTP).exists():
        raise Refused("ALREADY_DONE", _("An app is set up already. Remove it first."))
    totp.TOTP.activate(account, secret)
    _use(account, step)
    _log(viewer, "set", Type.TOTP)


@transaction.atomic
def add_passkey(*, viewer: Viewer, account: Account, name: str, credential: dict[str, Any]) -> None:
    """Keep a passkey that the browser has just made; raises Refused where it does not answer the challenge."""
    try:
        webauthn.parse_registration_response(credential)
        webauthn.complete_registration(credential)
        webauthn.WebAuthn.add(account, name, credential)
    except (ValidationError, ValueError, TypeError, KeyError, AttributeError) as error:
        raise Refused("NO_PASSKEY", _("The passkey was not made. Nothing was set; please try again.")) from error
    _log(viewer, "set", Type.WEBAUTHN)


@transaction.atomic
def new_recovery_codes(*, viewer: Viewer, account: Account) -> list[str]:
    """Ten new recovery codes, told this once; those before open nothing any more. Raises Refused without a factor."""
    if not has_factor(account):
        raise Refused("FACTOR_FIRST", _("First set up an app or a passkey. Nothing was changed."))
    Authenticator.objects.filter(user=account, type=Type.RECOVERY_CODES).delete()
    made = RecoveryCodes.activate(account).generate_codes()
    _log(viewer, "set", Type.RECOVERY_CODES)
    return made


@transaction.atomic
def remove_factor(*, viewer: Viewer, account: Account, factor_id: int) -> None:
    """Take one of one's own away; recovery codes go with the last factor that they stand in for."""
    row = Authenticator.objects.filter(user=account, pk=factor_id).first()
    if row is None:
        raise NotFound()
    kind = row.type
    row.delete()
    if not has_factor(account):
        lift_factors(account)
    _log(viewer, "removed", kind)


def lift_factors(account: Account) -> None:
    """Take every factor away; in the caller's transaction, which logs it."""
    Authenticator.objects.filter(user=account).delete()


def codes_left(row: Authenticator) -> int:
    """How many recovery codes were not used."""
    return len(row.wrap().get_unused_codes())


def _is_right(row: Authenticator, typed: str) -> bool:
    if row.type == Type.TOTP:
        step = _step_of(get_adapter().decrypt(row.data["secret"]), typed)
        is_right = step is not None and _use(row.user, step)
    else:
        is_right = row.wrap().validate_code(typed)
        row.refresh_from_db()
    if is_right:
        row.record_usage()
    return is_right


def _step_of(secret: str, typed: str) -> int | None:
    """The step of 30 seconds, now or beside now, whose code this is (RFC 6238 section 5.2)."""
    for step in totp.yield_hotp_counters_from_time():
        if compare_user_code(actual=typed, expected=totp.format_hotp_value(totp.hotp_value(secret, step))):
            return step
    return None


@transaction.atomic
def _use(account: Account, step: int) -> bool:
    """Whether the code of this step is used for the first time; of processes at once one wins."""
    _row, is_new = UsedCode.objects.get_or_create(account=account, step=step)
    UsedCode.objects.filter(account=account, step__lt=step - STEPS_KEPT).delete()
    return is_new


def _log(viewer: Viewer, verb: str, kind: str) -> None:
    log_acts(viewer=viewer, acts=[Act(verb, "second_factor", code=str(kind).upper())])
