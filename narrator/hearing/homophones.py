"""Numbers, letters and units that the dictation wrote as words of the same or nearly the same sound: "ten
point for", "from when pair of cables", "two thirteen no bolts".

What sounds the same no ear can tell apart: the trade's language alone decides. What only nearly does must
fit the sound too, the better the surer the dictation was. The number is taken where it makes the whole line
clearly likelier. The words are data (``grammars/hearing/homophones.toml``).
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any, Literal

from narrator.hearing.acoustics import Floats
from narrator.hearing.readings import Judge
from narrator.hearing.spoken import in_words, numeric
from narrator.paths import GRAMMARS
from narrator.values import Word

Kind = Literal["numbers", "letters", "near", "units"]
_MOST = 0.98
"""Confidences above this count as this."""
_KINDS: tuple[Kind, ...] = ("numbers", "letters", "near", "units")


@lru_cache(maxsize=1)
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads((GRAMMARS / "hearing" / "homophones.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=1)
def _sounds() -> dict[str, tuple[str, Kind]]:
    """What each word may stand for, and in which way."""
    return {
        other: (meant, kind)
        for kind in _KINDS
        for meant, others in _table()[kind].items()
        for other in others
    }


@lru_cache(maxsize=1)
def _limits() -> dict[str, float]:
    return {name: float(value) for name, value in _table()["limits"].items()}


@dataclass(frozen=True, slots=True)
class _Place:
    """A word that may stand for another, and the spoken words around it."""

    word: str
    meant: str
    kind: Kind
    before: tuple[str, ...]
    after: tuple[str, ...]

    def text(self, word: str) -> list[str]:
        """The line with a word in this place."""
        return [*self.before, word, *self.after]

    def possible(self) -> bool:
        """Letters stand beside a number or another letter, units after a number."""
        left, right = (any(map(numeric, side)) for side in (self.before[-1:], self.after[:1]))
        return left if self.kind == "units" else left or right or self.kind != "letters"

    def among(self, heard: Collection[tuple[str, str]]) -> bool:
        """Whether another text has what is meant beside the word before it or the one after it."""
        left = any((word, self.meant) in heard for word in self.before[-1:])
        return left or any((self.meant, word) in heard for word in self.after[:1])


def numbers_restored(
    words: Sequence[Word], scores: Floats, ear: Judge, heard: Collection[tuple[str, str]] = ()
) -> list[Word]:
    """The words, with numbers, letters and units in place of words of the same sound where all is for it.

    ``scores`` is what the second ear's network says of the sound, ``heard`` has the pairs of words, one after
    the other, that any other text of the same sound has. A word that is replaced is told as the other reading
    and as sure as the choice is.
    """
    found = list(words)
    for at in range(len(found)):
        place = _place(found, at)
        if place is None or not place.possible():
            continue
        word = found[at]
        gain, limit = _gain(place, scores, ear, heard)
        if place.kind in ("near", "units"):
            gain += _limits()["doubt"] * _doubt(word)
        if gain >= limit:
            written = word.word.lower().replace(place.word, place.meant)
            conf = (word.conf or 1.0) / (1 + math.exp(-gain))
            found[at] = replace(word, word=written, conf=round(conf, 3), other=word.word)
    return found


def _place(words: Sequence[Word], at: int) -> _Place | None:
    """The place of a word that may stand for another."""
    said = in_words(words[at].word)
    if said not in _sounds():
        return None
    before = tuple(in_words(" ".join(word.word for word in words[:at])).split())
    after = tuple(in_words(" ".join(word.word for word in words[at + 1 :])).split())
    return _Place(said, *_sounds()[said], before, after)


def _gain(
    place: _Place, scores: Floats, ear: Judge, heard: Collection[tuple[str, str]]
) -> tuple[float, float]:
    """How much likelier the line is with what is meant, and how much that must be."""
    limits = _limits()
    texts = [place.text(place.word), place.text(place.meant)]
    language = ear.language.score(texts[1]) - ear.language.score(texts[0])
    if place.kind in ("numbers", "letters"):
        return language, limits["seconded" if place.among(heard) else "alone"]
    if language <= 0:
        return language, limits["near"]
    as_is, meant = ear.fits(scores, texts)
    return language + limits["fit"] * (meant - as_is), limits["near"]


def _doubt(word: Word) -> float:
    """Log odds that the word is wrong, by its own confidence."""
    sure = min(_MOST, max(1 - _MOST, word.conf if word.conf is not None else 0.5))
    return math.log((1 - sure) / sure)


def pairs(texts: Sequence[Sequence[str]]) -> set[tuple[str, str]]:
    """Words that stand one after the other in any of the texts."""
    return {pair for text in texts for pair in pairwise(text)}
