"""The second ear listening for calls: the attention phrase with a command behind it.

A grammar of a few phrases hears them in anything, so what it hears counts only where the phrase fits the
sound nearly as well as the best free text does. Some commands end in free words (a vehicle, a new value):
there the phrase and then the free text's end are fitted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from narrator.hearing.orders import FARTHEST, distance
from narrator.hearing.second_ear import FOLDER, ShopEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.vosk_engine import UNKNOWN, VoskDecoder
from narrator.values import Word

LONGEST_S = 8.0
"""A longer piece is no call."""


class CallEar:
    """A ``Decoder`` that gives the phrase that was called, or nothing.

    ``phrases`` are whole calls (lower case, blanks between words); one that ends in ``UNKNOWN`` goes on in
    free words. Each word's confidence is ``exp`` of how much worse the call fits than the best free text, a
    frame of 0.03 s: 1 at best. Calls with words that the model lacks are not heard.
    """

    name = "shop-calls"
    timing: Literal["aligned", "estimated"] = "aligned"

    def __init__(self, phrases: Sequence[str]) -> None:
        self._grammar = VoskDecoder(FOLDER)
        left_out = set(self._grammar.set_grammar([*phrases, UNKNOWN], skip_unknown=True))
        self._ear = ShopEar()
        kept = [phrase.split() for phrase in phrases if phrase not in left_out]
        self._phrases = [(p[:-1], True) if p[-1] == UNKNOWN else (p, False) for p in kept]

    def decode(self, segment: Segment) -> list[Word]:
        """See ``Decoder``."""
        if segment.end - segment.start > LONGEST_S:
            return []
        words = [word.word for word in self._grammar.decode(segment)]
        if not words:
            return []
        far, phrase, goes_on = min(
            (distance(said, words[: len(said)] if goes_on else words), said, goes_on)
            for said, goes_on in self._phrases
        )
        if far > FARTHEST:
            return []
        sure = math.exp(self._fit(segment, phrase, goes_on))
        return [Word(word, segment.start, segment.end, sure) for word in phrase]

    def _fit(self, segment: Segment, phrase: list[str], goes_on: bool) -> float:
        free = [word.word for word in self._ear.hear(segment)]
        scores = self._ear.scores(segment.samples)
        ways = [phrase + free[at:] for at in range(len(phrase) - 2, len(phrase) + 3)] if goes_on else [phrase]
        *own, best = self._ear.fits(scores, [*ways, free])
        return min(0.0, (max(own) - best) / max(1, len(scores)))
