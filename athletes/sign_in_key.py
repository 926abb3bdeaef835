"""The key that seals second factors at rest (AES-256-GCM, NIST SP 800-38D): a file of its own, in no backup."""

import base64
import secrets
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import settings

from teamtrack.common.key_file import kept_in

NONCE_BYTES, KEY_BYTES = 12, 32
_FOR = b"teamtrack second factor 1"


class Unreadable(Exception):
    """What is sealed does not open with this server's key."""


def key_file() -> Path:
    """Where the key lies; whoever restores a backup elsewhere takes it along, or second factors are set up anew."""
    return Path(settings.SIGN_IN_KEY_FILE)


def seal(text: str) -> str:
    """Seal a secret for the database."""
    nonce = secrets.token_bytes(NONCE_BYTES)
    return base64.b64encode(nonce + _cipher().encrypt(nonce, text.encode(), _FOR)).decode()


def unseal(sealed: str) -> str:
    """What was sealed; raises Unreadable for anything else."""
    try:
        raw = base64.b64decode(sealed, validate=True)
        return _cipher().decrypt(raw[:NONCE_BYTES], raw[NONCE_BYTES:], _FOR).decode()
    except (ValueError, InvalidTag) as error:
        raise Unreadable from error


def _cipher() -> AESGCM:
    return AESGCM(bytes.fromhex(kept_in(key_file(), lambda: secrets.token_hex(KEY_BYTES))))
