"""What the library of second factors asks of us: secrets sealed, names of the club, the account's own user name."""

from typing import Any

from allauth.mfa.adapter import DefaultMFAAdapter
from django.utils.translation import gettext as _

from athletes.sign_in_key import seal, unseal


class FactorAdapter(DefaultMFAAdapter):
    """Sends no mail and asks nothing of e-mail addresses: accounts here need none."""

    def encrypt(self, text: str) -> str:
        return seal(text)

    def decrypt(self, encrypted_text: str) -> str:
        return unseal(encrypted_text)

    def get_totp_issuer(self) -> str:
        return _("Team server")

    def send_notification_mail(self, *args: Any, **kwargs: Any) -> None:
        return None

    def get_public_key_credential_user_entity(self, user: Any) -> dict[str, Any]:
        entity = super().get_public_key_credential_user_entity(user)
        return entity | {"display_name": user.person.full_name, "name": user.username}
