"""Keys of health text: one file for each athlete, outside the database; destroying it ends the text in backups too.

Sealed text is: version, id of the key, nonce, ciphertext (AES-256-GCM, NIST SP 800-38D, from `cryptography`), bound to
the row in which it lies, so that it opens nowhere else. Text is padded, so that its length says little.
"""

import json
import os
import secrets
from collections.abc import Mapping
from pathlib import Path
from uuid import UUID, uuid4

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import settings

VERSION = b"\x01"
ID_BYTES, NONCE_BYTES, KEY_BYTES = 16, 12, 32
PADDED_TO = 64


class Unreadable(Exception):
    """The key of a sealed text is not here, or the text was not sealed for this row."""


def key_folder() -> Path:
    """Where the keys lie: HEALTH_KEYS_DIR, else a folder of the data folder."""
    return Path(settings.HEALTH_KEYS_DIR)


def key_file(key_id: UUID) -> Path:
    """The file of one key; its name says nobody's name."""
    return key_folder() / f"{key_id}.key"


def make_key() -> UUID:
    """Make a key, on disk before this returns; answers its id."""
    key_id, folder = uuid4(), key_folder()
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with os.fdopen(os.open(key_file(key_id), os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(secrets.token_bytes(KEY_BYTES))
        out.flush()
        os.fsync(out.fileno())
    _sync(folder)
    return key_id


def destroy_key(key_id: UUID) -> bool:
    """Take a key away for good; answers whether it was there. Safe to run twice."""
    path = key_file(key_id)
    try:
        with path.open("r+b") as out:
            out.write(bytes(KEY_BYTES))
            out.flush()
            os.fsync(out.fileno())
        path.unlink()
    except FileNotFoundError:
        return False
    _sync(path.parent)
    return True


def seal(text: Mapping[str, object], *, key_id: UUID, row: str) -> bytes:
    """Seal `text` (what JSON can say) for the row that `row` names; raises Unreadable where the key is not here."""
    plain = json.dumps(text, separators=(",", ":"), ensure_ascii=False).encode()
    plain += b" " * (-len(plain) % PADDED_TO)
    nonce = secrets.token_bytes(NONCE_BYTES)
    head = VERSION + key_id.bytes
    return head + nonce + AESGCM(_key(key_id)).encrypt(nonce, plain, head + row.encode())


def unseal(sealed: bytes, *, row: str) -> dict[str, object]:
    """What was sealed for this row; raises Unreadable where its key is gone, or the text is of another row."""
    sealed = bytes(sealed)
    head, rest = sealed[: 1 + ID_BYTES], sealed[1 + ID_BYTES :]
    if head[:1] != VERSION or len(rest) <= NONCE_BYTES:
        raise Unreadable
    try:
        plain = AESGCM(_key(UUID(bytes=head[1:]))).decrypt(rest[:NONCE_BYTES], rest[NONCE_BYTES:], head + row.encode())
    except InvalidTag as error:
        raise Unreadable from error
    found: dict[str, object] = json.loads(plain)
    return found


def _key(key_id: UUID) -> bytes:
    try:
        key = key_file(key_id).read_bytes()
    except FileNotFoundError as error:
        raise Unreadable from error
    if len(key) != KEY_BYTES or key == bytes(KEY_BYTES):
        raise Unreadable
    return key


def _sync(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
