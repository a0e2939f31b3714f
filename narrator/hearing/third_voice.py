"""The bundled model's own encoder: a third voice about the numbers of a noisy piece.

The tuned encoder hears trade talk far better than the one that it was made from, but what noise does to a
word is not the same in both. So where the dictation's texts differ in a number, those that have the third
voice's numbers count for more; and where the second ear is sure of a number and the third voice has the
same, it takes the place of the dictation's, which is told as the other reading. No number is ever put in or
given up by it. Weights are data (``grammars/hearing/fusion.toml``), measured in docs/measurements/hearing.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import Protocol

from rapidfuzz.distance import Levenshtein

from narrator.hearing.acoustics import Floats
from narrator.hearing.clearness import NOISY_DB, clear_by
from narrator.hearing.readings import Judge, as_said
from narrator.hearing.segmenter import Segment
from narrator.hearing.spoken import in_words, numeric
from narrator.hearing.weighing import figures
from narrator.values import Word

_ENDS = ".,;:!?"


class Voice(Protocol):
    """A recognizer of pieces."""

    def decode(self, segment: Segment) -> list[Word]:
        """Words of one piece."""
        ...


def weights() -> dict[str, float]:
    """What a shared number counts, how sure the second ear must be, and how sure the number then is."""
    return figures("third")


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
        open_ = [i for i, at in second.items() if _other(flat[i], heard[at]) and _alone(words[said[i][0]])]
        third = _beside(flat, self.words) if open_ else {}
        for i in open_:
            whole, meant = words[said[i][0]], heard[second[i]].word
            if i in third and self.words[third[i]] == meant:
                written = meant + whole.word[len(whole.word.rstrip(_ENDS)) :]
                conf = min(whole.conf or 1.0, weights()["settled"])
                found[said[i][0]] = replace(whole, word=written, conf=conf, other=whole.word)
        return found


def _other(one: str, other: Word) -> bool:
    """Whether two words are two numbers, and the second ear is sure of its own."""
    sure = (other.conf or 0.0) >= weights()["sure"]
    return sure and one != other.word and numeric(one) and numeric(other.word)


def _alone(word: Word) -> bool:
    """Whether a dictated word is one spoken word, and no figure of several."""
    return len(in_words(word.word).split()) == 1


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
