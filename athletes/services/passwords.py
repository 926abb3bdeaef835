"""Changing one's own password, which ends every other sign-in."""

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from athletes.core.tries import PASSWORD, PLACE
from athletes.models import Account
from athletes.services.access_log import Act, log_acts
from athletes.services.sign_ins import end_sign_ins, own_viewer
from athletes.services.tries import counted, forget, key_of
from teamtrack.common.errors import Refused


def is_password(*, account: Account, typed: str, place: str) -> bool:
    """Whether this is the account's password; wrong ones are counted. Raises Wait over the limit."""
    key = key_of("own", str(account.pk))
    with counted({key: PASSWORD, key_of("place", place): PLACE}) as one:
        one.was_right = account.check_password(typed)
    if one.was_right:
        forget(key)
    return one.was_right


def change_password(*, account: Account, old: str, new: str, place: str, session_key: str) -> None:
    """Set a new password where the old one is right; every sign-in but this one's ends.

    Raises Refused with its fields where either will not do, Wait over the limit.
    """
    if not is_password(account=account, typed=old, place=place):
        raise Refused(
            "CHECK_FIELDS", _("Please look again. Nothing was changed."), fields={"old": [_("This is not right.")]}
        )
    try:
        validate_password(new, account)
    except ValidationError as error:
        fields = {"new": error.messages}
        raise Refused("CHECK_FIELDS", _("Please look again. Nothing was changed."), fields=fields) from error
    with transaction.atomic():
        account.set_password(new)
        account.save(update_fields=["password"])
        end_sign_ins(person=account.person, but=session_key)
        log_acts(viewer=own_viewer(account.person), acts=[Act("set", "account", fields=("password",))])
