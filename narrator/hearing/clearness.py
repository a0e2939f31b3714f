"""How far speech stands clear of the sound around it, of a piece of sound by itself."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

NOISY_DB = 25.0
"""Pieces that stand less clear than this were said in noise: of people's quiet recordings 3 % are below it,
of recordings mixed at 10 dB 92 % (docs/measurements/hearing.md)."""
_FRAME, _FFT = 320, 512
_BANDS = slice(7, 128)
"""Bins of the spectrum from 220 to 4,000 Hz, at 16 kHz."""
_LOUD, _STILL = 90, 10
_LEAST = 1e-10
_WINDOW = np.hanning(_FRAME).astype(np.float32)


def clear_by(samples: NDArray[np.float32]) -> float:
    """Decibels between the loud frames of a piece (float32 mono at 16 kHz) and its still ones."""
    count = len(samples) // _FRAME
    if not count:
        return 0.0
    frames = samples[: count * _FRAME].reshape(count, _FRAME)
    power = np.square(np.abs(np.fft.rfft(frames * _WINDOW, _FFT)[:, _BANDS])).mean(1)
    loud, still = np.percentile(10 * np.log10(power + _LEAST), (_LOUD, _STILL))
    return float(loud - still)
