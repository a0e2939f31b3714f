"""Noise suppressors from the registries before the recognizer, to see whether one pays.

What came of it: docs/measurements/hearing.md.

``pip install pyrnnoise noisereduce webrtc-noise-gain``: makers' tools, no dependencies of the program. A
system of ``tests.bench.spoken`` or ``tests.bench.people`` named ``both+rnnoise``, ``both+gating`` or
``both+webrtc`` hears what they leave of each piece.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import soxr
from numpy.typing import NDArray

from narrator.values import SAMPLE_RATE

Floats = NDArray[np.float32]
_FULL = 32767.0
_LEVEL = 2
"""Of webrtc's four levels of suppression, the second strongest but one; stronger ones eat speech."""


def rnnoise(sound: Floats) -> Floats:
    """RNNoise (pyrnnoise), which works at 48 kHz."""
    from pyrnnoise import RNNoise  # noqa: PLC0415

    rate = 48_000
    wide = soxr.resample(sound, SAMPLE_RATE, rate)
    whole = np.round(np.clip(wide, -1, 1) * _FULL).astype(np.int16)
    frames = [frame[0] for _, frame in RNNoise(rate).denoise_chunk(whole, partial=True)]
    clean = np.concatenate(frames).astype(np.float32) / _FULL
    return _as_long(soxr.resample(clean, rate, SAMPLE_RATE), len(sound))


def gating(sound: Floats) -> Floats:
    """Spectral gating for steady noise (noisereduce), at four fifths of its strength."""
    from noisereduce import reduce_noise  # noqa: PLC0415

    clean = reduce_noise(y=sound, sr=SAMPLE_RATE, stationary=True, prop_decrease=0.8)
    return _as_long(clean.astype(np.float32), len(sound))


def webrtc(sound: Floats) -> Floats:
    """The suppressor of WebRTC (webrtc-noise-gain), without its gain."""
    from webrtc_noise_gain import AudioProcessor  # noqa: PLC0415

    processor, size = AudioProcessor(0, _LEVEL), SAMPLE_RATE // 100
    whole = np.round(np.clip(sound, -1, 1) * _FULL).astype("<i2")
    padded = np.pad(whole, (0, -len(whole) % size))
    parts = [processor.Process10ms(padded[n : n + size].tobytes()).audio for n in range(0, len(padded), size)]
    clean = np.frombuffer(b"".join(parts), "<i2").astype(np.float32) / _FULL
    return _as_long(clean, len(sound))


def _as_long(sound: Floats, length: int) -> Floats:
    return np.pad(sound, (0, max(0, length - len(sound))))[:length]


SUPPRESSORS: dict[str, Callable[[Floats], Floats]] = {"rnnoise": rnnoise, "gating": gating, "webrtc": webrtc}
