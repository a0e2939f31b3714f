"""Session ids: twelve letters and digits that sort by time and can be read out loud.

Eight characters of milliseconds since 2020 (enough until 2054) and four at random, in the base-32 alphabet
without i, l, o and u (Crockford's); a reader may type o for 0 and i or l for 1.
"""

from __future__ import annotations

import secrets
import time

ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"
LENGTH = 12
_EPOCH_MS = 1_577_836_800_000
_READ_AS = str.maketrans("oil", "011")


def new_id(now_ms: int | None = None) -> str:
    """A fresh id; later ones sort after earlier ones made in another millisecond."""
    ms = (time.time_ns() // 1_000_000 if now_ms is None else now_ms) - _EPOCH_MS
    number = (ms % 2**40) << 20 | secrets.randbits(20)
    return "".join(ALPHABET[number >> shift & 31] for shift in range(5 * (LENGTH - 1), -1, -5))


def as_typed(text: str) -> str:
    """What a person typed or read out, in the letters that ids are made of."""
    return text.strip().lower().translate(_READ_AS)
