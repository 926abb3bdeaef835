"""Ids that are made here as phones make them."""

import os
from datetime import datetime
from uuid import UUID


def uuid7(at: datetime) -> UUID:
    """A UUID of version 7 made at that moment (RFC 9562, section 5.7)."""
    milliseconds = int(at.timestamp() * 1000)
    noise = int.from_bytes(os.urandom(10), "big")
    high = (milliseconds << 16) | (0x7 << 12) | (noise & 0xFFF)
    low = (0b10 << 62) | (noise >> 12) & ((1 << 62) - 1)
    return UUID(int=(high << 64) | low)
