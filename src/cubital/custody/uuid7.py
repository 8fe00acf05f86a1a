"""
Ids that are made where something happens, without asking anybody.

References:
    RFC 9562 (2024), section 5.7: UUID version 7.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

RANDOM_BYTES = 10
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
SHAPE = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")


def uuid7(now: datetime, random: bytes) -> str:
    """
    Make a UUID version 7.

    Args:
        now: when it is made, timezone-aware; kept to the millisecond.
        random: ten bytes nobody can guess, for example ``os.urandom(10)``; six bits go unused.

    Raises:
        ValueError: other than ten bytes, or a time before 1970 or without a zone.
    """
    if len(random) != RANDOM_BYTES:
        raise ValueError(f"An id takes {RANDOM_BYTES} random bytes, not {len(random)}.")
    if now.tzinfo is None:
        raise ValueError("An id takes a time with its zone.")
    millis = (now - EPOCH) // timedelta(milliseconds=1)
    if not 0 <= millis < 1 << 48:
        raise ValueError("An id holds times from 1970 to the year 10889.")
    noise = int.from_bytes(random, "big")
    high = noise >> 64 & 0xFFF
    low = noise & (1 << 62) - 1
    number = millis << 80 | 7 << 76 | high << 64 | 0b10 << 62 | low
    text = f"{number:032x}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


def is_uuid7(text: str) -> bool:
    """Tell whether the text is a version 7 UUID in its plain lower-case form."""
    return SHAPE.fullmatch(text) is not None
