"""The second ear: our own compact Vosk model of the trade's speech (``models/shop``).

It hears a piece with the trade's language model or with a grammar of phrases, tells how well any text fits
the sound, and when each word of a text was said. It is no dictation engine; ``fusion`` weighs it against
one.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from narrator.hearing.acoustics import AcousticModel, Floats, Spoken, best_paths
from narrator.hearing.language_model import shared
from narrator.hearing.own_words import own_words
from narrator.hearing.pronounce import PHONES, pronunciations
from narrator.hearing.segmenter import Segment
from narrator.hearing.vosk_engine import VoskDecoder
from narrator.paths import MODELS
from narrator.values import Word

FOLDER = MODELS / "shop"
_NUMBER = {phone: i for i, phone in enumerate(PHONES, start=2)}
_LATE_S = 0.12
"""How much later than it is said the network marks a word, in quiet and noise alike: it has learned to wait.
Measured by ``tests.bench.times``; to be measured anew when the model is trained anew."""
_NOISE = [[1]]
"""Pronunciation of what cannot be pronounced: the model's phone for noise."""


class ShopEar:
    """The model in ``folder``, loaded once."""

    def __init__(self, folder: Path = FOLDER, own: Path | None = None) -> None:
        self._vosk = VoskDecoder(folder)
        self._acoustics = AcousticModel(folder)
        self.language = shared(folder / "language.arpa.gz")
        self.own = own_words(own, self.language) if own else None

    def hear(self, segment: Segment) -> list[Word]:
        """Words of one piece by the trade's language model."""
        return self._vosk.decode(segment)

    def scores(self, samples: Floats) -> Floats:
        """What the network says of the sound, once for all texts that are to be fitted to it."""
        return self._acoustics.scores(samples)

    def fits(self, scores: Floats, texts: Sequence[Sequence[str]]) -> list[float]:
        """How well texts (words as said) fit the sound: log weights of their best paths, to be compared."""
        return best_paths(scores, self._acoustics.phones, [self._spoken(text) for text in texts])[0]

    def times(self, scores: Floats, text: Sequence[str]) -> list[tuple[float, float]]:
        """Start and end of each word of a text in seconds from the start of the sound."""
        marked = best_paths(scores, self._acoustics.phones, [self._spoken(text)], aligned=True)[1][0]
        return [(max(0.0, start - _LATE_S), max(0.0, end - _LATE_S)) for start, end in marked]

    def _spoken(self, text: Sequence[str]) -> Spoken:
        """Pronunciations of words as phone numbers."""
        ways = self.own.ways if self.own else {}
        return [
            [[_NUMBER[p] for p in way] for way in ways.get(word) or pronunciations(word)] or _NOISE
            for word in text
        ]
