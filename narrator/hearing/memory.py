"""Gives memory that a piece of sound needed back to the system.

Pieces differ in length, and glibc keeps what the longest of them needed, in parts too scattered to be used
again: a tenth of all memory after a few long pieces (docs/measurements/hearing.md). Elsewhere there is
nothing of the kind to be called, and nothing is done.
"""

from __future__ import annotations

import ctypes
import sys
from collections.abc import Callable


def _trim() -> Callable[[int], int] | None:
    """glibc's call, where this is glibc."""
    return getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None


_TRIM = _trim()


def give_back() -> bool:
    """Give back what is free; whether there was a way to."""
    return _TRIM is not None and _TRIM(0) >= 0
