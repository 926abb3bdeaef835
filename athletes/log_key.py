"""The key that signs the heads of the access log (Ed25519, RFC 8032); made at first need, read by its owner alone."""

from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from django.conf import settings

from teamtrack.common.key_file import kept_in


def key_file() -> Path:
    """Where the private key lies: in the data folder, outside the database."""
    return Path(settings.DATA_DIR) / "log-signing.key"


def signing_key() -> Ed25519PrivateKey:
    """The private key of this server."""
    kept = kept_in(key_file(), lambda: Ed25519PrivateKey.generate().private_bytes_raw().hex())
    return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(kept))


def public_key() -> str:
    """The public key as 64 hexadecimal digits, to be printed and kept elsewhere."""
    return signing_key().public_key().public_bytes_raw().hex()


def sign(text: bytes) -> str:
    """The signature as 128 hexadecimal digits."""
    return signing_key().sign(text).hex()


def is_signed(text: bytes, *, signature: str, key: str) -> bool:
    """Whether `text` was signed with the private half of `key`; a malformed signature is none."""
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(key)).verify(bytes.fromhex(signature), text)
    except (InvalidSignature, ValueError):
        return False
    return True
