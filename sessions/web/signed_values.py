"""Values that a page carries signed: what it showed, and what an undo puts back."""

from typing import Any

from django.core import signing
from django.utils.translation import gettext as _

from teamtrack.common.errors import Refused


def signed(values: Any, salt: str) -> str:
    """Plain values as text that nobody else can make."""
    return signing.dumps(values, salt=salt)


def unsigned(text: str, salt: str) -> Any:
    """The values of `signed`; Refused for a page that is out of date, or text that is not ours."""
    try:
        return signing.loads(text, salt=salt)
    except signing.BadSignature:
        told = _("This page is out of date. Nothing was changed; look at it and save again.")
        raise Refused("CHECK_FIELDS", told) from None
