"""Stand-ins without a model: a detector that hears loudness, a decoder that names what it is given."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME, band_level
from narrator.values import SAMPLE_RATE, AudioChunk, Word


class LoudIsSpeech:
    def detect(self, frames: NDArray[np.float32]) -> tuple[NDArray[np.bool_], NDArray[np.float32]]:
        return np.abs(frames).max(axis=1) > 0.1, band_level(frames)


class NamingDecoder:
    """Gives the words of ``texts``, one a piece, and remembers the pieces."""

    name = "fake"
    timing = "aligned"

    def __init__(self, texts: Sequence[str] = ()) -> None:
        self.texts = list(texts)
        self.segments: list[Segment] = []

    def decode(self, segment: Segment) -> list[Word]:
        self.segments.append(segment)
        text = self.texts.pop(0) if self.texts else "yes"
        return [Word(word, segment.start, segment.end, 0.5) for word in text.split()]


def sound(*parts: tuple[float, bool]) -> NDArray[np.float32]:
    """Noise bursts: (seconds, loud) after each other, in whole frames."""
    rng = np.random.default_rng(1)
    pieces = []
    for seconds, loud in parts:
        count = round(seconds * SAMPLE_RATE / FRAME) * FRAME
        noise = rng.uniform(0.11, 0.5, count) * rng.choice([-1.0, 1.0], count)
        pieces.append(noise if loud else rng.uniform(-0.01, 0.01, count))
    return np.concatenate(pieces).astype(np.float32)


def chunks(samples: NDArray[np.float32], size: int = 1600, first: int = 0) -> Iterator[AudioChunk]:
    for at in range(0, len(samples), size):
        yield AudioChunk(samples[at : at + size], first + at)
