"""Our own cues and spoken answers, kept out of what the ears hear.

A spoken answer leaves nothing beside it: its stretch is blanked. A cue is a few known tones; only they are
taken out, and what is left is heard, so that nobody is deaf to a mechanic who speaks into a cue. How long a
cue may sound in the room is known roughly only: a sound server plays it a second late.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from narrator.live.cues import NAMES, Cue, tones
from narrator.values import SAMPLE_RATE

Floats = NDArray[np.float32]
_PIECE = SAMPLE_RATE // 50
_DROWNED = 0.1
"""A piece in which less power than this share of the tones' is left is blanked: what is left is the edges of
the tones and their echo."""


@dataclass(frozen=True, slots=True)
class Own:
    """Samples ``first`` up to ``last``, while a cue sounded or, where it is None, we spoke."""

    first: int
    last: int
    cue: Cue | None = None

    def row(self) -> list[Any]:
        """As it stands in the tape's index."""
        return [self.first, self.last, self.cue or ""]


def own_of(row: Sequence[Any]) -> Own:
    """From the tape's index; rows of older tapes name no cue."""
    name = row[2] if len(row) > 2 else ""
    return Own(int(row[0]), int(row[1]), name if name in NAMES else None)


def without_own(samples: Floats, first: int, own: Sequence[Own]) -> Floats:
    """The samples without what we sounded; NaN where nothing can be told of the rest."""
    near = [one for one in own if one.last > first and one.first < first + len(samples)]
    if not near:
        return samples
    samples = samples.copy()
    for one in near:
        a, b = max(0, one.first - first), min(len(samples), one.last - first)
        samples[a:b] = np.nan if one.cue is None else _without_tones(samples[a:b], one.cue)
    return samples


def _without_tones(samples: Floats, cue: Cue) -> Floats:
    pieces = np.array_split(samples, max(1, round(len(samples) / _PIECE)))
    return np.concatenate([_piece(piece, cue) for piece in pieces])


def _piece(samples: Floats, cue: Cue) -> Floats:
    """A fiftieth of a second, less the tones as they fit it best."""
    waves, inverse = _fit(cue, len(samples))
    tone = waves @ (inverse @ samples)
    rest = samples - tone
    if float(rest @ rest) < _DROWNED * float(tone @ tone):
        return np.full(len(samples), np.nan, np.float32)
    return np.asarray(rest, np.float32)


@lru_cache(maxsize=256)
def _fit(cue: Cue, length: int) -> tuple[Floats, Floats]:
    """The cue's waves over so many samples, swelling or fading evenly, and what fits them best."""
    time = np.arange(length) / SAMPLE_RATE
    swell = np.linspace(-1, 1, length)
    waves = [
        grow * turn(2 * np.pi * hertz * time)
        for hertz in tones(cue)
        for grow in (np.ones(length), swell)
        for turn in (np.cos, np.sin)
    ]
    matrix = np.stack(waves, axis=1)
    return matrix.astype(np.float32), np.linalg.pinv(matrix).astype(np.float32)
