"""The bundled model's own encoder: a third voice about the numbers of a noisy piece.

The tuned encoder hears trade talk far better than the one that it was made from, but what noise does to a
word is not the same in both. So where the dictation's texts differ in a number, those that have the third
voice's numbers count for more; and where the second ear is sure of a number and the third voice has the
same, it takes the place of the dictation's, which is told as the other reading. No number is ever put in or
given up by it. Weights are data (``grammars/hearing/fusion.toml``), measured in docs/measurements/hearing.md.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property, lru_cache
from typing import Any, Protocol

from rapidfuzz.distance import Levenshtein

from narrator.hearing.acoustics import Floats
from narrator.hearing.clearness import NOISY_DB, clear_by
from narrator.hearing.readings import Judge, as_said
from narrator.hearing.segmenter import Segment
from narrator.hearing.spoken import in_words, numeric
from narrator.paths import GRAMMARS
from narrator.values import Word


class Voice(Protocol):
    """A recognizer of pieces."""

    def decode(self, segment: Segment) -> list[Word]:
        """Words of one piece."""
        ...


@lru_cache(maxsize=1)
def weights() -> dict[str, float]:
    """What a shared number counts, how sure the second ear must be, and how sure the number then is."""
    table: dict[str, Any] = tomllib.loads((GRAMMARS / "hearing" / "fusion.toml").read_text(encoding="utf-8"))
    return {name: float(value) for name, value in table["third"].items()}


class Opinion:
    """What the third voice says of one piece: asked when it is first needed, and never of a clear piece."""

    def __init__(self, voice: Voice | None, segment: Segment, scores: Floats, ear: Judge) -> None:
        self._voice, self._segment, self._scores, self._ear = voice, segment, scores, ear

    @cached_property
    def words(self) -> list[str]:
        """Words as said."""
        if self._voice is None or clear_by(self._segment.samples) >= NOISY_DB:
            return []
        heard = as_said(self._voice.decode(self._segment), self._scores, self._ear)
        return in_words(" ".join(word.word for word in heard)).split()

    def bonuses(self, texts: Sequence[Sequence[str]]) -> list[float]:
        """What each of the dictation's texts, likeliest first, counts for more; nothing where all have the
        same numbers. The less of the likeliest text the third voice heard at all, the less it counts."""
        if len({tuple(filter(numeric, text)) for text in texts}) < 2:
            return [0.0] * len(texts)
        known = sum(_shared(texts[0], self.words)) / max(1, len(texts[0]), len(self.words))
        rate = weights()["shared"] * known
        return [rate * sum(_shared(text, self.words, numbers=True)) for text in texts]

    def settled(self, words: Sequence[Word], heard: Sequence[Word]) -> list[Word]:
        """The words, with the number on which the second ear (``heard``) and the third voice agree in the
        place of another number."""
        said = [(i, word) for i, whole in enumerate(words) for word in in_words(whole.word).split()]
        flat, found = [word for _, word in said], list(words)
        second = _beside(flat, [word.word for word in heard])
        sure = [i for i, at in second.items() if (heard[at].conf or 0.0) >= weights()["sure"]]
        for i in sure if any(_other(flat[i], heard[second[i]].word) for i in sure) else []:
            meant, whole = heard[second[i]].word, said[i][0]
            third = _beside(flat, self.words)
            alone = in_words(words[whole].word) == flat[i]
            if alone and _other(flat[i], meant) and i in third and self.words[third[i]] == meant:
                written = words[whole].word.lower().replace(flat[i], meant)
                conf = min(words[whole].conf or 1.0, weights()["settled"])
                found[whole] = replace(words[whole], word=written, conf=conf, other=words[whole].word)
        return found


def _other(one: str, other: str) -> bool:
    """Whether two words are two numbers."""
    return one != other and numeric(one) and numeric(other)


def _shared(text: Sequence[str], other: Sequence[str], *, numbers: bool = False) -> list[bool]:
    """For what stands in the same place of two texts, whether it is the same word (and a number)."""
    return [
        text[i] == other[at] and (not numbers or numeric(text[i])) for i, at in _beside(text, other).items()
    ]


def _beside(text: Sequence[str], other: Sequence[str]) -> dict[int, int]:
    """For the words of a text those of another that stand in their place, by number."""
    return {
        step.src_start + k: step.dest_start + k
        for step in Levenshtein.opcodes(text, other)
        if step.tag in ("equal", "replace")
        for k in range(step.src_end - step.src_start)
    }
