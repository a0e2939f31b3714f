"""The shop's own words, for both ears: heard from the next piece on after ``vocabulary.toml`` changed.

The trade's language model takes their names in, so that the dictation is steered to them; and a small graph
of each name's pronunciations is fitted to the sound wherever something alike was heard. A word's
pronunciation is the shop's own, else that of ``pronounce``. The second ear's large graph is not touched: it
does not know the words, so it has no say where they stand.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Protocol

from rapidfuzz.distance import Levenshtein

from narrator.errors import NarratorError
from narrator.hearing.acoustics import Floats
from narrator.hearing.language_model import LanguageModel
from narrator.hearing.pronounce import Pronunciation, parse, pronunciations
from narrator.hearing.spoken import NUMBER_WORDS, in_words
from narrator.hearing.weighing import figures
from narrator.values import Word

_END = re.compile(r"[.,;:!?]*$")


class Fitting(Protocol):
    """The part of the second ear that is needed."""

    def fits(self, scores: Floats, texts: Sequence[Sequence[str]]) -> list[float]:
        """How well texts fit the sound."""
        ...


@dataclass(frozen=True, slots=True)
class Candidate:
    """A name that may have been said where words ``first`` to ``last`` (exclusive) were heard; ``far`` is the
    share of its sounds that differ."""

    name: tuple[str, ...]
    first: int
    last: int
    far: float


class OwnWords:
    """The words in ``path``, read again when the file changes; a file that cannot be understood keeps the old
    ones."""

    def __init__(self, path: Path, language: LanguageModel | None = None) -> None:
        self._path, self._language = path, language
        self._stamp = 0
        self._new: set[str] = set()
        self.names: tuple[tuple[str, ...], ...] = ()
        self.ways: dict[str, list[Pronunciation]] = {}
        self.written: dict[str, str] = {}
        """Words with marks on their letters as the shop writes them, by what they are said as."""
        self.refresh()

    def refresh(self) -> None:
        """Take in what changed since the last call: a look at the file's time, and some milliseconds."""
        try:
            stamp = self._path.stat().st_mtime_ns
        except OSError:
            stamp = 0
        if stamp == self._stamp:
            return
        self._stamp = stamp
        try:
            rows = tomllib.loads(self._path.read_text(encoding="utf-8")).get("word", []) if stamp else []
            names, ways = _read(rows)
            written = _written(rows)
        except (OSError, ValueError, KeyError, TypeError, AttributeError, NarratorError):
            return  # the language room says what is to be mended
        self.names, self.ways, self.written = names, ways, written
        if self._language is not None:
            self._language.set_names(())
            self._new = {word for name in names for word in name if not self._language.knows(word)}
            self._language.set_names(names)

    def new(self, word: str) -> bool:
        """Whether a word as said is one that only the shop has."""
        return word in self._new

    def placed(self, words: list[Word], scores: Floats, ear: Fitting) -> list[Word]:
        """The words with the shop's names where they fit the sound clearly better than what was heard."""
        words = [self._as_written(word) for word in words] if self.written else words
        found = sorted(self._candidates(words), key=lambda c: c.far)[: int(_limits()["tried"])]
        if not found:
            return words
        heard = [word for whole in words for word in in_words(whole.word).split()]
        texts = [heard, *(_with(words, c) for c in found)]
        fits = ear.fits(scores, texts)
        likely = [self._language.score(text) if self._language else 0.0 for text in texts]
        rated = sorted(
            ((_rate(words, c, fits[i] - fits[0], likely[i] - likely[0]), c) for i, c in enumerate(found, 1)),
            key=lambda row: -row[0],
        )
        taken: list[tuple[float, Candidate]] = []
        for rate, c in rated:
            if rate >= _limits()["rate"] and not any(c.first < t.last and t.first < c.last for _, t in taken):
                taken.append((rate, c))
        for rate, c in sorted(taken, key=lambda row: -row[1].first):
            words = [*words[: c.first], *self._named(words, c, rate), *words[c.last :]]
        return words

    def _candidates(self, words: Sequence[Word]) -> Iterator[Candidate]:
        said = [in_words(word.word).split() for word in words]
        sounds = [[p for word in row for p in (pronunciations(word) or [()])[0]] for row in said]
        for name in self.names:
            ways = [p for word in name for p in self._ways(word)[0]]
            for first in range(len(words)):
                for last in range(first + 1, min(len(words), first + len(name) + 2) + 1):
                    span = [word for row in said[first:last] for word in row]
                    if tuple(span) == name or NUMBER_WORDS & set(span):
                        continue
                    other = [p for row in sounds[first:last] for p in row]
                    far = Levenshtein.normalized_distance(ways, other)
                    if far <= _limits()["far"]:
                        yield Candidate(name, first, last, far)

    def _as_written(self, word: Word) -> Word:
        """A word that only the shop has, with the marks on its letters, where it was dictated without."""
        said = in_words(word.word)
        if said not in self.written or not self.new(said):
            return word
        tail = _END.search(word.word)
        return replace(word, word=self.written[said] + (tail.group() if tail else ""))

    def _named(self, words: Sequence[Word], c: Candidate, rate: float) -> list[Word]:
        start, end = words[c.first].start, words[c.last - 1].end
        tail = _END.search(words[c.last - 1].word)
        conf = round(1 / (1 + math.exp(-rate)), 3)
        texts = [self.written.get(word, word) for word in c.name]
        texts[-1] += tail.group() if tail else ""
        return [Word(text, start, end, conf) for text in texts]

    def _ways(self, word: str) -> list[Pronunciation]:
        return self.ways.get(word) or pronunciations(word) or [()]


def _read(
    rows: Sequence[dict[str, Any]],
) -> tuple[tuple[tuple[str, ...], ...], dict[str, list[Pronunciation]]]:
    """Names in words, and the pronunciations that the shop gave, by word."""
    names, ways = [], dict[str, list[Pronunciation]]()
    for row in rows:
        name = tuple(in_words(row["name"]).split())
        if name:
            names.append(name)
        for given in row.get("pronounced", ()):
            parts = given.split(",")
            for word, said in zip(name, parts, strict=False) if len(parts) == len(name) else ():
                ways.setdefault(word, []).append(parse(said))
    return tuple(names), ways


def _written(rows: Sequence[dict[str, Any]]) -> dict[str, str]:
    words = [word for row in rows for word in row["name"].lower().split() if not word.isascii()]
    return {in_words(word): word for word in words}


def _with(words: Sequence[Word], c: Candidate) -> list[str]:
    before, after = (in_words(" ".join(w.word for w in part)) for part in (words[: c.first], words[c.last :]))
    return [*before.split(), *c.name, *after.split()]


def _rate(words: Sequence[Word], c: Candidate, fit: float, likely: float) -> float:
    sure = min(0.98, max(0.02, min(word.conf or 0.5 for word in words[c.first : c.last])))
    limits = _limits()
    return limits["fit"] * fit + limits["language"] * likely + limits["doubt"] * math.log((1 - sure) / sure)


def _limits() -> dict[str, float]:
    return figures("own")


@lru_cache(maxsize=4)
def own_words(path: Path, language: LanguageModel | None = None) -> OwnWords:
    """One for both ears."""
    return OwnWords(path, language)
