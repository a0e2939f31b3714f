"""The four short sounds, made here: each its own tune, so that none needs to be loud to be told apart."""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

Cue = Literal["listening", "kept", "not_understood", "trouble"]

NAMES: tuple[Cue, ...] = get_args(Cue)
RATE = 48_000
_TUNES: dict[Cue, tuple[tuple[float, float], ...]] = {
    "listening": ((660.0, 0.09), (880.0, 0.14)),
    "kept": ((1320.0, 0.06),),
    "not_understood": ((440.0, 0.12), (330.0, 0.18)),
    "trouble": ((740.0, 0.12), (0.0, 0.06), (740.0, 0.12), (0.0, 0.06), (490.0, 0.25)),
}
"""Tones as (Hz, seconds); 0 Hz is silence."""
_LOUD = {"kept": 0.15}
_EDGE_S = 0.008


def cue(name: Cue) -> NDArray[np.float32]:
    """The sound of a cue, mono at ``RATE``."""
    return np.concatenate([_tone(hertz, seconds, _LOUD.get(name, 0.35)) for hertz, seconds in _TUNES[name]])


def tones(name: Cue) -> list[float]:
    """Every frequency in a cue, in Hz."""
    return sorted({part for hertz, _ in _TUNES[name] if hertz for part in (hertz, 2 * hertz)})


def _tone(hertz: float, seconds: float, loud: float) -> NDArray[np.float32]:
    """A tone with its octave, and soft edges so that it does not click."""
    time = np.arange(round(seconds * RATE)) / RATE
    wave = np.sin(2 * np.pi * hertz * time) + 0.3 * np.sin(4 * np.pi * hertz * time)
    edge = np.minimum(1.0, np.minimum(time, time[::-1]) / _EDGE_S)
    return (loud / 1.3 * wave * edge).astype(np.float32)
