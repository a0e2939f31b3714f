"""Word times where the engine gives none: spread over the voiced sound by how long each word takes to say."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME
from narrator.values import SAMPLE_RATE

_DIGIT_LETTERS = 4.0
"""A digit is spoken as a word of about four letters (mean length of *zero* to *nine*)."""
_TAIL = 5
"""Frames for which the detector says speech after it has ended (docs/measurements/hearing.md)."""


def spread_times(words: Sequence[str], segment: Segment) -> list[tuple[float, float]]:
    """Start and end of each word in seconds from the start of the session, in order, without overlap.

    Each word gets a share of the frames taken for speech in proportion to its letters, so that pauses fall
    between words. An estimate: docs/measurements/hearing.md says how good it is.
    """
    if not words:
        return []
    voiced = segment.voiced if segment.voiced.any() else np.ones_like(segment.voiced)
    spoken = np.flatnonzero(_without_tails(voiced))
    ends = np.cumsum([_letters(word) for word in words])
    marks = np.concatenate([[0.0], ends / ends[-1]]) * len(spoken)
    times = []
    for left, right in pairwise(marks.tolist()):
        start = _at(spoken, left, floor=True)
        times.append((segment.start + start, segment.start + max(start, _at(spoken, right, floor=False))))
    return times


def _without_tails(voiced: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The voiced frames less the end of each run, where the detector holds on to speech that is over."""
    kept = voiced.copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[False], voiced, [False]]).astype(np.int8)))
    for start, end in edges.reshape(-1, 2).tolist():
        kept[end - min(_TAIL, (end - start) // 3) : end] = False
    return kept


def _letters(word: str) -> float:
    return 1.0 + sum(_DIGIT_LETTERS if c.isdigit() else 1.0 for c in word if c.isalnum())


def _at(spoken: np.ndarray[tuple[int], np.dtype[np.intp]], mark: float, *, floor: bool) -> float:
    """Seconds into the piece at which ``mark`` frames of speech have passed.

    At a pause a word ends before it (``floor`` false) and the next begins after it (``floor`` true).
    """
    whole = int(mark)
    part = mark - whole
    if part == 0.0 and not floor:
        whole, part = whole - 1, 1.0
    index = min(max(whole, 0), len(spoken) - 1)
    return (float(spoken[index]) + (part if whole < len(spoken) else 1.0)) * FRAME / SAMPLE_RATE
