"""Dictation with the second ear: two recognizers hear each piece and are weighed where they differ.

Where they agree, certainty rises. Where they differ and the weighing is clear, its choice is taken. Where
numbers are at stake and it is not clear, the dictation's word stays and its confidence is put low, so that
it comes up for a look. Word times are measured by the second ear.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, Protocol

from narrator.hearing.acoustics import Floats
from narrator.hearing.fusion import Stretch, Texts, chance, differences
from narrator.hearing.homophones import numbers_restored, pairs
from narrator.hearing.own_words import OwnWords
from narrator.hearing.readings import as_said
from narrator.hearing.remarks import marked
from narrator.hearing.second_ear import ShopEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.spoken import in_words
from narrator.hearing.third_voice import Opinion
from narrator.hearing.weighing import figures
from narrator.values import Word


class Dictation(Protocol):
    """The first ear."""

    name: str

    def decode(self, segment: Segment) -> list[Word]:
        """Words of one piece."""
        ...


def limits() -> dict[str, float]:
    """Chances from which the second ear's words are taken: plain words, and where numbers are at stake."""
    return figures("limits")


def chosen(
    first: Dictation, segment: Segment, second: ShopEar, scores: Floats, third: Opinion | None = None
) -> tuple[list[Word], Texts]:
    """The dictation's words, figures as they were said; where it gives several texts, the one that both ears
    together think likeliest (and the third voice, of their numbers), and all of them."""
    heard: list[tuple[list[Word], float]] = getattr(first, "alternatives", lambda _: [])(segment)
    if not heard:
        return as_said(first.decode(segment), scores, second), ()
    said = [as_said(words, scores, second) for words, _ in heard]
    texts = [
        (in_words(" ".join(w.word for w in words)).split(), p)
        for words, (_, p) in zip(said, heard, strict=True)
    ]
    fits = second.fits(scores, [text for text, _ in texts])
    more = third.bonuses([text for text, _ in texts]) if third else [0.0] * len(texts)
    ranks = [
        math.log(max(1e-9, p))
        + limits()["fit"] * fit
        + limits()["language"] * second.language.score(text)
        + m
        for (text, p), fit, m in zip(texts, fits, more, strict=True)
    ]
    return said[ranks.index(max(ranks))], texts


class BothEars:
    """A ``Decoder`` of two; ``settled`` and ``open_`` count what was decided and what was left for a look."""

    timing: Literal["aligned", "estimated"] = "aligned"

    def __init__(self, first: Dictation, second: ShopEar) -> None:
        self.name = f"{first.name}+shop"
        self.settled = self.open_ = 0
        self._first, self._second = first, second
        opened = getattr(first, "third", None)
        self._third = opened() if opened else None

    def decode(self, segment: Segment) -> list[Word]:
        """Words of one piece."""
        own = getattr(self._second, "own", None)
        if own is not None:
            own.refresh()
        scores = self._second.scores(segment.samples)
        third = Opinion(self._third, segment, scores, self._second)
        words, texts = chosen(self._first, segment, self._second, scores, third)
        if not words:
            return words
        heard = self._second.hear(segment)
        stretches = differences(words, heard, scores, self._second, texts)
        if own is not None:
            stretches = [s for s in stretches if not _names_of(own, words[s.first : s.last])]
        others = pairs([*(text for text, _ in texts), [word.word for word in heard]])
        weighed = numbers_restored(self._weighed(words, stretches), scores, self._second, others)
        weighed = third.settled(weighed, heard)
        if own is not None:
            weighed = own.placed(weighed, scores, self._second)
        return marked(self._timed(weighed, segment, scores), self._second.language)

    def _weighed(self, words: list[Word], stretches: list[Stretch]) -> list[Word]:
        doubted = {i for s in stretches for i in range(s.first, max(s.last, s.first + 1))}
        certain = [
            w if i in doubted or w.conf is None else replace(w, conf=1 - (1 - w.conf) / 2)
            for i, w in enumerate(words)
        ]
        for stretch in sorted(stretches, key=lambda s: s.first, reverse=True):
            better = chance(stretch)
            if better >= _limit(stretch):
                self.settled += 1
                certain[stretch.first : stretch.last] = _taken(stretch, words, better)
            elif stretch.value and stretch.kind != "alike" and better >= limits()["look"]:
                self.open_ += 1
                _doubt(certain, stretch)
        return certain

    def _timed(self, words: list[Word], segment: Segment, scores: Floats) -> list[Word]:
        """The words with the times at which the second ear finds them; a written number spans its spoken
        words."""
        said = [in_words(word.word).split() for word in words]
        flat = [word for row in said for word in row]
        if not flat:
            return words
        times = self._second.times(scores, flat)
        timed, at, last = [], 0, segment.start
        for word, row in zip(words, said, strict=True):
            span = times[at : at + len(row)]
            at += len(row)
            start = max(last, min(segment.end, segment.start + span[0][0])) if span else last
            last = max(start, min(segment.end, segment.start + span[-1][1])) if span else start
            timed.append(replace(word, start=round(start, 3), end=round(last, 3)))
        return timed


def _limit(stretch: Stretch) -> float:
    """The chance from which the second ear's words are taken: a high one where the ears agree on little, as
    the second one makes a sentence of the trade out of anything, and where it puts a number in of which it is
    not sure: in noise it hears some in what both did not understand."""
    limit = limits()[stretch.kind]
    unsure = stretch.kind == "invented" and stretch.sure < limits()["certain"]
    return max(limit, limits()["apart"]) if unsure or stretch.agreed < limits()["agreed"] else limit


def _taken(stretch: Stretch, words: list[Word], better: float) -> list[Word]:
    """The second ear's words; where a number is at stake and the choice not quite sure, the dictation's are
    told too."""
    asked = stretch.value and better < limits()["silent"]
    other = _text(words[stretch.first : stretch.last]) if asked else None
    return [replace(word, conf=round(better * (word.conf or 1.0), 3), other=other) for word in stretch.words]


def _doubt(certain: list[Word], stretch: Stretch) -> None:
    """The dictation's words stay, less sure, and tell what the second ear heard; what only that one heard is
    told with the word before or after."""
    other = _text(stretch.words)
    places = range(stretch.first, stretch.last)
    if not places:
        at = max(0, stretch.first - 1)
        near = certain[at].word.strip(".,;:!?").lower()
        other = f"{near} {other}" if stretch.first else f"{other} {near}"
        places = range(at, at + 1)
    for i in places:
        word = certain[i]
        certain[i] = replace(word, conf=min(word.conf or 1.0, limits()["doubted"]), other=other)


def _text(words: Sequence[Word]) -> str:
    return " ".join(word.word for word in words)


def _names_of(own: OwnWords, words: list[Word]) -> bool:
    """Whether a word stands here that only the shop knows, so that the second ear cannot have heard it."""
    return any(own.new(said) for word in words for said in in_words(word.word).split())
