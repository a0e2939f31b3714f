"""What a sound input is, whichever it is: something that calls back with blocks of samples.

Two are there: PortAudio (``portaudio``, the only module that imports sounddevice) and a sound file played as
if it were a microphone (``replay``). Everything after the callback is the same for both.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError

BLOCK_S = 0.05
"""Length of a block, in seconds."""

Callback = Callable[[NDArray[np.float32], bool], None]
"""Called with float32 samples of shape (n, channels), to be copied, and whether some were lost before."""


def steady_time() -> float:
    """Seconds on a clock that nobody sets; where there is such a one, it runs while the machine sleeps."""
    boot = getattr(time, "CLOCK_BOOTTIME", None)
    return time.clock_gettime(boot) if boot is not None else time.monotonic()


@dataclass(frozen=True, slots=True)
class InputInfo:
    """A sound input as the system lists it."""

    name: str
    channels: int
    rate: int
    default: bool


class Stream(Protocol):
    """An open input. ``rate`` is in samples a second."""

    name: str
    rate: int
    failure: NarratorError | None
    """What was wrong with it, once it has ended."""

    def ended(self) -> bool:
        """Whether it says of itself that no more sound will come and none is missing (a file's end)."""
        ...

    def close(self) -> None:
        """Stop calling back and let the device go."""
        ...


class Device(Protocol):
    """Opens an input by name."""

    patient: bool
    """Whether its callback may wait: a file can, a microphone cannot."""

    def open(self, name: str | None, callback: Callback) -> Stream:
        """Open the input called ``name``, or the system's default one.

        Raises:
            NarratorError: E601 to E603.
        """
        ...
