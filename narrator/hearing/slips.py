"""What a recognizer of this kind writes when nobody speaks: loops, stock phrases, foreign letters.

Found by listening to workshop noise without speech (docs/measurements/hearing.md). What is refused here is
not lost: the recognizer counts the time as unheard and the sound stays on the tape.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAMES_A_SECOND

_LONGEST_PERIOD = 16
_REPEATS = {1: 8, 2: 5}
"""How often tokens repeat before it is a loop, by the period's length; 3 for longer periods.

People do say the same digit five times and the same word thrice.
"""
_STOCK = {"you", "thank you for watching", "thanks for watching", "thank you very much for watching"}
"""Ends of subtitles, which the model was trained on and gives for noise."""
_SURE = -0.2
_FEWEST_LETTERS_A_SECOND = 1.5
_MOST_LETTERS_A_SECOND, _SLACK = 40.0, 12
"""Fast speech has about 20 letters a second; noise may hide half of it from the detector."""


def loop_start(ids: Sequence[int]) -> int | None:
    """Where the repetition at the end of ``ids`` starts (after its first round), or None."""
    for period in range(1, _LONGEST_PERIOD + 1):
        repeats = _REPEATS.get(period, 3)
        span = period * repeats
        if len(ids) >= span and all(ids[-i] == ids[-i - period] for i in range(1, span - period + 1)):
            return len(ids) - span + period
    return None


def plausible(text: str, mean_logp: float, segment: Segment) -> bool:
    """Whether ``text`` can have been said in ``segment``, given its mean log probability a token."""
    letters = [c for c in text if c.isalnum()]
    if not letters or sum(c.isascii() for c in letters) < 0.7 * len(letters):
        return False
    if mean_logp > _SURE:
        return True
    if re.sub(r"[^a-z ]", "", text.lower()).strip() in _STOCK:
        return False
    voiced = float(segment.voiced.sum()) / FRAMES_A_SECOND
    most = _SLACK + _MOST_LETTERS_A_SECOND * voiced
    return _FEWEST_LETTERS_A_SECOND * voiced <= len(letters) <= most
