"""An authenticator app for tests, written from the standards alone (RFC 4226, RFC 6238)."""

import base64
import hashlib
import hmac
import struct
import time


def code_for(secret: str, at: float | None = None) -> str:
    """The code of six digits that an app shows."""
    step = int(time.time() if at is None else at) // 30
    digest = hmac.new(base64.b32decode(secret), struct.pack(">Q", step), hashlib.sha1).digest()
    start = digest[-1] & 15
    return f"{(int.from_bytes(digest[start : start + 4]) & 0x7FFFFFFF) % 10**6:06d}"
