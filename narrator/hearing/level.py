"""How loud the microphone is, and whether it is overdriven or dead."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_CLIPPED = 0.995
"""Samples beyond this share of full scale were most likely cut off."""
_RUN = 3
"""So many in a row are clipping; single ones are loud speech."""
_HOLD_S = 3.0
_DEAD_S = 5.0
_FLOOR_DB = -90.0


@dataclass(frozen=True, slots=True)
class Level:
    """``peak`` and ``mean`` in dB of full scale, of the last tenth of a second or so.

    ``clipping``: cut off within the last three seconds. ``dead``: nothing but zeros for five seconds, as a
    muted or broken microphone gives.
    """

    peak: float = _FLOOR_DB
    mean: float = _FLOOR_DB
    clipping: bool = False
    dead: bool = False


class Meter:
    """Takes blocks of shape (n, channels) at the device's rate; read ``level`` from any thread."""

    def __init__(self) -> None:
        self.level = Level()
        self._clock = 0.0
        self._clipped_at = -math.inf
        self._alive_at = 0.0

    def take(self, block: NDArray[np.float32], rate: int) -> None:
        """Take the next block."""
        if not block.size:
            return
        self._clock += len(block) / rate
        size = np.abs(np.nan_to_num(block))
        peak = float(size.max())
        if peak > 0.0:
            self._alive_at = self._clock
        if peak >= _CLIPPED and any(_longest_run(channel >= _CLIPPED) >= _RUN for channel in size.T):
            self._clipped_at = self._clock
        self.level = Level(
            _decibel(peak),
            _decibel(math.sqrt(float(np.mean(np.square(size, dtype=np.float64))))),
            self._clock - self._clipped_at < _HOLD_S,
            self._clock - self._alive_at >= _DEAD_S,
        )


def _longest_run(flags: NDArray[np.bool_]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return int((edges[1::2] - edges[::2]).max(initial=0))


def _decibel(value: float) -> float:
    return max(_FLOOR_DB, 20 * math.log10(value)) if value > 0 else _FLOOR_DB
