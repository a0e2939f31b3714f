"""Weighs what the dictation heard against what the second ear heard, stretch by stretch.

Where both differ, the stretch is decided by a logistic rule over: how much better the second ear's words
fit the sound and the trade's language, how sure the dictation was of its own, and how sure the second ear
is. The weights are data (``grammars/hearing/fusion.toml``), fitted by ``models.train.fit_fusion``.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz.distance import Levenshtein

from narrator.hearing.acoustics import Floats
from narrator.hearing.second_ear import ShopEar
from narrator.hearing.spoken import NUMBER_WORDS, in_words
from narrator.paths import GRAMMARS
from narrator.values import Word

FEATURES = ("fit", "language", "doubt", "sure", "words", "more", "unknown", "number", "share", "invents")
_LEAST, _MOST = 0.02, 0.98
_LONGEST = 8
"""Stretches with more words on either side are not compared: the two heard different things."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Dictation words ``first`` to ``last`` (exclusive), against ``words`` of the second ear with their
    confidences."""

    first: int
    last: int
    words: tuple[Word, ...]
    features: tuple[float, ...]

    @property
    def kind(self) -> str:
        """What is at stake: a ``number`` of the dictation's, one ``invented`` by the other, a ``word``."""
        if self.features[FEATURES.index("number")] > 0:
            return "number"
        return "invented" if self.features[FEATURES.index("invents")] > 0 else "word"


@lru_cache(maxsize=1)
def weights() -> tuple[tuple[float, ...], float]:
    """Weights in the order of ``FEATURES``, and the constant."""
    table = tomllib.loads((GRAMMARS / "hearing" / "fusion.toml").read_text(encoding="utf-8"))["weights"]
    return tuple(table[name] for name in FEATURES), table["constant"]


def chance(stretch: Stretch) -> float:
    """Probability that the second ear is the better one here."""
    rates, constant = weights()
    total = constant + sum(rate * value for rate, value in zip(rates, stretch.features, strict=True))
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, total))))


def differences(
    dictated: Sequence[Word], heard: Sequence[Word], scores: Floats, ear: ShopEar
) -> list[Stretch]:
    """Where the two ears differ, ``scores`` being what the second one's network says of the sound, with
    the features of each stretch."""
    said = [(i, word) for i, whole in enumerate(dictated) for word in in_words(whole.word).split()]
    own, other = [word for _, word in said], [word.word for word in heard]
    spans = _spans(said, own, other, len(dictated))
    if not spans:
        return []
    texts = [own] + [replaced(dictated, first, last, other[a:b]) for first, last, a, b in spans]
    fits = ear.fits(scores, texts)
    language = [ear.language.score(text) for text in texts]
    agreed = 1 - sum(b - a for _, _, a, b in spans) / max(1, len(other))
    found = []
    for number, (first, last, a, b) in enumerate(spans, start=1):
        values = _features(dictated, first, last, heard[a:b], ear)
        gains = ((fits[number] - fits[0]) / 10, (language[number] - language[0]) / 10)
        found.append(
            Stretch(first, last, tuple(heard[a:b]), (*gains, *values, agreed, float(len(spans) == 1)))
        )
    return found


def _spans(
    said: list[tuple[int, str]], own: list[str], other: list[str], count: int
) -> list[tuple[int, int, int, int]]:
    """Stretches that differ, as whole dictated words and words of the second ear; overlapping ones joined.

    ``said`` has for each spoken word of the dictation the number of the dictated word that it comes from.
    """
    low, high = [len(other)] * (len(own) + 1), [0] * (len(own) + 1)
    blocks: list[list[int]] = []
    for step in Levenshtein.opcodes(own, other):
        for i in range(step.src_start, step.src_end + 1):
            inner = step.dest_start + (i - step.src_start if step.tag == "equal" else 0)
            low[i] = min(low[i], inner)
            high[i] = max(high[i], step.dest_end if i == step.src_end else inner)
        if step.tag == "equal":
            continue
        left, right = step.src_start, step.src_end
        while 0 < left < len(own) and said[left - 1][0] == said[left][0]:
            left -= 1
        while 0 < right < len(own) and said[right - 1][0] == said[right][0]:
            right += 1
        if blocks and left < blocks[-1][1]:
            blocks[-1][1] = max(right, blocks[-1][1])
        elif blocks and left == blocks[-1][1]:
            blocks[-1][1] = right
        else:
            blocks.append([left, right])
    spans = []
    for left, right in blocks:
        first = said[left][0] if left < len(said) else count
        last = said[right - 1][0] + 1 if right > left else first
        spans.append((first, last, low[left], high[right]))
    return [row for row in spans if row[1] - row[0] <= _LONGEST and row[3] - row[2] <= _LONGEST]


def replaced(dictated: Sequence[Word], first: int, last: int, words: Sequence[str]) -> list[str]:
    """The words as said, with others in place of a stretch."""
    before = in_words(" ".join(word.word for word in dictated[:first])).split()
    after = in_words(" ".join(word.word for word in dictated[last:])).split()
    return [*before, *words, *after]


def _features(
    dictated: Sequence[Word], first: int, last: int, heard: Sequence[Word], ear: ShopEar
) -> tuple[float, ...]:
    own = in_words(" ".join(word.word for word in dictated[first:last])).split()
    sure = min((word.conf or 0.5 for word in dictated[first:last]), default=0.8)
    sure = min(_MOST, max(_LEAST, sure))
    other = sum(word.conf or 0.5 for word in heard) / len(heard) if heard else 0.5
    unknown = sum(not ear.language.knows(word) for word in own)
    number = any(map(_numeric, own))
    return (
        math.log((1 - sure) / sure), other, (len(own) + len(heard)) / 4, (len(heard) - len(own)) / 2,
        float(unknown), float(number),
    )  # fmt: skip


def _numeric(word: str) -> bool:
    """Whether a word says a number or spells a letter."""
    return word in NUMBER_WORDS or (len(word) == 1 and word not in "aio")


def _invents(values: Sequence[float], heard: Sequence[Word]) -> float:
    """1 where the second ear heard a number and the dictation none."""
    return float(values[-1] == 0 and any(_numeric(word.word) for word in heard))
