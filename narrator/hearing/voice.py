"""Is someone speaking in this 20 ms? WebRTC's voice activity detector behind a gate that follows the noise.

The detector alone takes steady machine noise for speech; the gate asks that the speech band stand clear of
the quietest sound of the last seconds, so that a running engine becomes the background after a short while.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import webrtcvad
from numpy.typing import NDArray

from narrator.values import SAMPLE_RATE

FRAME = SAMPLE_RATE // 50
"""Samples of a frame: 20 ms, one of the three lengths that the detector takes."""
FRAMES_A_SECOND = SAMPLE_RATE // FRAME

_BAND_HZ = (200.0, 4000.0)
_FLOOR_DB = -65.0
"""Background that is assumed at first."""


class VoiceDetector(Protocol):
    """Tells speech from the rest, frame by frame, in order."""

    def detect(self, frames: NDArray[np.float32]) -> tuple[NDArray[np.bool_], NDArray[np.float32]]:
        """For frames of shape (n, FRAME): whether each is speech, and its level in dB of full scale.

        A frame with NaN in it tells nothing: it is no speech and no background.
        """
        ...


@dataclass(frozen=True, slots=True)
class GateOptions:
    """How the gate behaves; the values were chosen by measurement, see docs/measurements/hearing.md."""

    aggressiveness: int = 2
    margin_db: float = 5.0
    memory_s: float = 8.0
    settle_s: float = 3.0
    percentile: float = 5.0


class GatedVad:
    """WebRTC's detector and a noise gate. It remembers the level of the last seconds, nothing else."""

    def __init__(self, options: GateOptions | None = None) -> None:
        self._options = options or GateOptions()
        self._vad = webrtcvad.Vad(self._options.aggressiveness)
        self._levels: deque[float] = deque(maxlen=int(self._options.memory_s * FRAMES_A_SECOND))
        self._recent: deque[float] = deque(maxlen=5)

    def detect(self, frames: NDArray[np.float32]) -> tuple[NDArray[np.bool_], NDArray[np.float32]]:
        """See ``VoiceDetector``."""
        known = np.isfinite(frames).all(axis=1)
        frames = np.nan_to_num(frames)
        levels = band_level(frames)
        pcm = (np.clip(frames, -1.0, 1.0) * 32767).astype("<i2")
        voiced = np.zeros(len(frames), dtype=np.bool_)
        for i in np.flatnonzero(known):
            level = levels[i]
            over = float(level) - self._follow(float(level))
            voiced[i] = over > self._options.margin_db and self._vad.is_speech(pcm[i].tobytes(), SAMPLE_RATE)
        return voiced, levels

    def _follow(self, level: float) -> float:
        """Take one frame's level in and return the level of the background, in dB."""
        self._recent.append(level)
        self._levels.append(sum(self._recent) / len(self._recent))
        # At first a quiet room is assumed, so that a recording which begins in the middle of a word
        # does not take that word for the background.
        if len(self._levels) < self._options.settle_s * FRAMES_A_SECOND:
            return _FLOOR_DB
        rank = int(len(self._levels) * self._options.percentile / 100)
        return float(np.partition(np.fromiter(self._levels, np.float32), rank)[rank])


def band_level(frames: NDArray[np.float32]) -> NDArray[np.float32]:
    """Level of each frame of shape (n, FRAME) between 200 and 4000 Hz, in dB of full scale, -100 at least."""
    power = np.abs(np.fft.rfft(frames * np.hanning(FRAME), axis=1)) ** 2
    hertz = np.fft.rfftfreq(FRAME, 1 / SAMPLE_RATE)
    band = (hertz >= _BAND_HZ[0]) & (hertz <= _BAND_HZ[1])
    mean = power[:, band].sum(axis=1) * 2 / (FRAME * FRAME * 0.375)
    levels: NDArray[np.float32] = (10 * np.log10(np.maximum(mean, 1e-10))).astype(np.float32)
    return levels
