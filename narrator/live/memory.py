"""Giving memory back to the system after work that needed much of it for a moment."""

from __future__ import annotations

import ctypes
import gc
import sys


def give_back() -> None:
    """Free what is in reference cycles; return freed memory to the system where its C library can (glibc).

    Without it the process stays as large as its largest moment, which grows with the job
    (docs/measurements/faults.md).
    """
    gc.collect()
    if not sys.platform.startswith("linux"):
        return
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None:
        trim(0)


def settle() -> None:
    """What is loaded by now stays: spare the collector from going through it each time."""
    gc.collect()
    gc.freeze()
