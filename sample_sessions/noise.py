"""Noises behind the speaker, made from nothing but numpy, so that they belong to nobody.

``workshop`` is what a small shop sounds like from the bench: a compressor that cuts in and out, an
impact wrench a few bays away, tools dropped on a steel tray. ``none`` is a quiet room. Levels are chosen
against speech at 0.07 rms; the same length and seed give the same noise.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from voices import RATE, Sound

ROOM = 0.0006
HUM, HUM_CYCLE, HUM_ON = 0.010, 45.0, 20.0
IMPACT, IMPACT_EVERY = 0.030, 19.0
CLATTER, CLATTER_EVERY = 0.045, 13.0


def none(samples: int, seed: int) -> Sound:
    """The hiss of a quiet room."""
    return (ROOM * _pink(samples, np.random.default_rng(seed))).astype(np.float32)


def workshop(samples: int, seed: int) -> Sound:
    """Compressor, impact wrench and clatter over a room's hiss."""
    rng = np.random.default_rng(seed)
    sound = 6 * ROOM * _pink(samples, rng) + _compressor(samples, rng)
    for start in _moments(samples, IMPACT_EVERY, rng):
        _add(sound, start, _impact(rng))
    for start in _moments(samples, CLATTER_EVERY, rng):
        _add(sound, start, _clatter(rng))
    return sound.astype(np.float32)


NOISES: dict[str, Callable[[int, int], Sound]] = {"none": none, "workshop": workshop}


def _pink(samples: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Noise whose power falls as one over the frequency, 1 rms."""
    bands = np.fft.rfft(rng.standard_normal(samples))
    bands /= np.sqrt(np.maximum(np.arange(len(bands)), 1.0))
    sound = np.fft.irfft(bands, samples)
    return np.asarray(sound / np.sqrt(np.mean(np.square(sound))))


def _compressor(samples: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """A motor's harmonics with piston thump, on for ``HUM_ON`` of every ``HUM_CYCLE`` seconds."""
    time = np.arange(samples) / RATE
    hum = sum(np.sin(2 * np.pi * 49.3 * k * time + rng.uniform(0, 6)) / k for k in range(1, 9))
    thump = 1 + 0.5 * np.sin(2 * np.pi * 12.3 * time)
    inside = (time % HUM_CYCLE) / HUM_ON
    swell = np.clip(8 * np.minimum(inside, 1 - inside), 0, 1)
    return np.asarray(HUM * hum * thump * swell + 0.2 * HUM * _pink(samples, rng) * swell)


def _impact(rng: np.random.Generator) -> NDArray[np.float64]:
    """A burst of an impact wrench: sharp metallic blows, 22 a second, for 0.5 to 1.5 s."""
    length = rng.uniform(0.5, 1.5)
    time = np.arange(int(length * RATE)) / RATE
    blow = np.exp(-90 * (time % (1 / 22)))
    ring = np.sin(2 * np.pi * 2100 * time) + 0.7 * np.sin(2 * np.pi * 3370 * time)
    return np.asarray(IMPACT * blow * (0.5 * ring + rng.standard_normal(len(time))))


def _clatter(rng: np.random.Generator) -> NDArray[np.float64]:
    """A tool dropped on a tray: three to six rings, each fainter."""
    sound = np.zeros(RATE)
    time = np.arange(RATE // 4) / RATE
    for bounce in range(int(rng.integers(3, 7))):
        ring = sum(np.sin(2 * np.pi * rng.uniform(1500, 6500) * time) for _ in range(4)) / 2
        _add(sound, int(rng.uniform(0, 0.7) * RATE), CLATTER * 0.75**bounce * np.exp(-30 * time) * ring)
    return sound


def _moments(samples: int, every: float, rng: np.random.Generator) -> list[int]:
    """Sample numbers of events that come about once in ``every`` seconds."""
    count = int(samples / RATE / every)
    return sorted(int(moment) for moment in rng.uniform(0, samples, count))


def _add(sound: NDArray[np.float64], start: int, piece: NDArray[np.float64]) -> None:
    room = min(len(piece), len(sound) - start)
    sound[start : start + room] += piece[:room]
