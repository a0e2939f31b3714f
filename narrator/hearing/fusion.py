"""Weighs what the dictation heard against what the second ear heard, stretch by stretch.

Where both differ, the stretch is decided by a logistic rule over: how much better the second ear's words
fit the sound and the trade's language, how sure the dictation was of its own, how sure the second ear is,
and whether another text of the dictation has the same. Where both sound the same ("seventy", "seven t"), the
language alone decides. The weights are data (``grammars/hearing/fusion.toml``), fitted by
``models.train.fit_fusion``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from rapidfuzz.distance import Levenshtein

from narrator.hearing.acoustics import Floats
from narrator.hearing.pronounce import alike
from narrator.hearing.second_ear import ShopEar
from narrator.hearing.spoken import in_words, numeric
from narrator.hearing.weighing import figures
from narrator.values import Word

Kind = Literal["word", "number", "invented", "lost", "alike"]
FEATURES = (
    "fit", "language", "doubt", "sure", "words", "more", "unknown", "number", "share", "loses", "seconded",
)  # fmt: skip
_LEAST, _MOST = 0.02, 0.98
_LONGEST = 12
"""Stretches with more words on either side are not compared: the two heard different things."""
_SPAN = 8.0
"""Features beyond this count as this."""
Texts = Sequence[tuple[Sequence[str], float]]
"""Texts of the dictation in words as said, with their probabilities."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Dictation words ``first`` to ``last`` (exclusive), against ``words`` of the second ear with their
    confidences.

    ``kind`` is what is at stake: a ``word``; a ``number`` of the dictation's, one ``invented`` by the other
    or ``lost`` by it; or ``alike``, where both sound the same and no number is lost.
    """

    first: int
    last: int
    words: tuple[Word, ...]
    features: tuple[float, ...]
    kind: Kind = "word"

    @property
    def agreed(self) -> float:
        """Share of the second ear's words in the piece on which both agree."""
        return self.features[FEATURES.index("share")]

    @property
    def sure(self) -> float:
        """How sure the second ear is of its words."""
        return self.features[FEATURES.index("sure")]

    @property
    def value(self) -> bool:
        """Whether a number or a spelled letter is at stake."""
        return self.kind != "word" and (
            self.kind != "alike" or any(numeric(word.word) for word in self.words)
        )


@lru_cache(maxsize=1)
def weights() -> tuple[tuple[float, ...], float]:
    """Weights in the order of ``FEATURES``, and the constant."""
    table = figures("weights")
    return tuple(table[name] for name in FEATURES), table["constant"]


def chance(stretch: Stretch) -> float:
    """Probability that the second ear is the better one.

    Where both sound the same, mostly by language: the fit tells a pause between words only ("for tea",
    "forty").
    """
    if stretch.kind == "alike":
        fit, language = (stretch.features[FEATURES.index(name)] for name in ("fit", "language"))
        return _logistic(10 * language + 5 * fit)
    rates, constant = weights()
    values = [max(-_SPAN, min(_SPAN, value)) for value in stretch.features]
    total = constant + sum(rate * value for rate, value in zip(rates, values, strict=True))
    return _logistic(total)


def _logistic(x: float) -> float:
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, x))))


def differences(
    dictated: Sequence[Word], heard: Sequence[Word], scores: Floats, ear: ShopEar, others: Texts = ()
) -> list[Stretch]:
    """Where the two ears differ, ``scores`` being what the second one's network says of the sound and
    ``others`` all texts of the dictation, with the features of each stretch."""
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
        mine = [word for i, word in said if first <= i < last]
        if _numbers(other[a:b]) < _numbers(mine) and alike(mine, other[a:b]):
            continue  # "two" is not given up for "to"
        values = _features(dictated[first:last], mine, heard[a:b], ear)
        gains = ((fits[number] - fits[0]) / 10, (language[number] - language[0]) / 10)
        before, after = [w for i, w in said if i < first][-1:], [w for i, w in said if i >= last][:1]
        lost = float(_numbers(other[a:b]) < _numbers(mine))
        seconded = _seconded([*before, *other[a:b], *after], others)
        row = (*gains, *values, agreed, lost, seconded)
        found.append(Stretch(first, last, tuple(heard[a:b]), row, _kind(mine, other[a:b])))
    return found


def _kind(mine: Sequence[str], other: Sequence[str]) -> Kind:
    had, has = [w for w in mine if numeric(w)], [w for w in other if numeric(w)]
    if len(has) >= len(had) and alike(mine, other):
        return "alike"
    if had == has:
        return "word"
    if len(has) < len(had):
        return "lost"
    return "number" if had else "invented"


def _numbers(words: Sequence[str]) -> int:
    return sum(map(numeric, words))


def _seconded(row: list[str], others: Texts) -> float:
    """Probability of the dictation's texts that have a row of words."""
    size = len(row)
    return sum(p for text, p in others if any(list(text[i : i + size]) == row for i in range(len(text))))


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
    dictated: Sequence[Word], own: Sequence[str], heard: Sequence[Word], ear: ShopEar
) -> tuple[float, ...]:
    sure = min((word.conf or 0.5 for word in dictated), default=0.8)
    sure = min(_MOST, max(_LEAST, sure))
    other = sum(word.conf or 0.5 for word in heard) / len(heard) if heard else 0.5
    unknown = sum(not ear.language.knows(word) for word in own)
    number = any(map(numeric, own))
    return (
        math.log((1 - sure) / sure), other, (len(own) + len(heard)) / 4, (len(heard) - len(own)) / 2,
        float(unknown), float(number),
    )  # fmt: skip
