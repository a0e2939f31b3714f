"""The second ear listening for a closed set of phrases, such as orders; everything else is rejected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein

from narrator.hearing.second_ear import FOLDER, ShopEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.vosk_engine import UNKNOWN, VoskDecoder

FARTHEST = 0.34
"""Share of a phrase's words that may differ from what the grammar heard."""
LEAST_FIT = -0.12
"""How much worse than the best free text a phrase may fit the sound, per frame of 0.03 s."""


@dataclass(frozen=True, slots=True)
class Heard:
    """The phrase that was heard, and how much worse it fits than the best free text (0 is best)."""

    phrase: str
    fit: float


class OrderEar:
    """Hears one of ``phrases`` (lower case, blanks between words) or nothing.

    Raises:
        NarratorError: E206 naming words of the phrases that the model lacks.
    """

    def __init__(self, phrases: Sequence[str], ear: ShopEar | None = None) -> None:
        self._ear = ear or ShopEar()
        self._phrases = {phrase: phrase.split() for phrase in phrases}
        self._grammar = VoskDecoder(FOLDER, [*phrases, UNKNOWN])

    def hear(self, segment: Segment) -> Heard | None:
        """The phrase said in a piece, or None when it is something else."""
        words = [word.word for word in self._grammar.decode(segment)]
        if not words:
            return None
        far, phrase = min((distance(said, words), phrase) for phrase, said in self._phrases.items())
        if far > FARTHEST:
            return None
        free = [word.word for word in self._ear.hear(segment)]
        scores = self._ear.scores(segment.samples)
        own, best = self._ear.fits(scores, [self._phrases[phrase], free])
        fit = min(0.0, (own - best) / max(1, len(scores)))
        return Heard(phrase, fit) if fit >= LEAST_FIT else None


def distance(phrase: Sequence[str], words: Sequence[str]) -> float:
    """Words that differ, as a share of the phrase's."""
    return Levenshtein.distance(phrase, words) / max(1, len(phrase))
