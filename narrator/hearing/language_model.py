"""The trade's trigram language model, read from an ARPA file."""

from __future__ import annotations

import gzip
import math
from array import array
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import numpy as np

START, END = "<s>", "</s>"
UNKNOWN = -16.0
"""Log probability of a word that the model does not know."""
OWN, NEXT = -6.0, -0.7
"""Log probability of a name's word anywhere, and after the name's words before it."""
_TEN = math.log(10)
_BITS = 20
"""A word's number takes so many bits of a key, so that three words make one whole number of 64 bits."""
_NONE = (1 << _BITS) - 1
"""The number of every word that the model does not have."""


class LanguageModel:
    """Log probabilities (natural) of words after words.

    Words that follow one another are one number, and all that are known stand in order in one array with
    their probabilities beside it: 6 MB where a dictionary of words took 100.

    Raises:
        ValueError: when the file has more words than fit a key.
    """

    def __init__(self, path: Path) -> None:
        self._number: dict[str, int] = {}
        self._own: dict[tuple[str, ...], float] = {}
        keys, logp, backoff = array("q"), array("d"), array("d")
        for words, likely, less in _grams(path):
            key = 0
            for word in words:
                key = key << _BITS | self._number.setdefault(word, len(self._number) + 1)
            keys.append(key)
            logp.append(likely * _TEN)
            backoff.append(less * _TEN)
        if len(self._number) >= _NONE:
            raise ValueError(f"more than {_NONE - 1} words")
        order = np.argsort(np.asarray(keys), kind="stable")
        self._keys = array("q", np.asarray(keys)[order].tobytes())
        self._logp = array("d", np.asarray(logp)[order].tobytes())
        self._backoff = array("d", np.asarray(backoff)[order].tobytes())

    def _at(self, words: Sequence[str]) -> int:
        """Where words that follow one another stand, or -1 where the model has not seen them do so."""
        key = 0
        for word in words:
            key = key << _BITS | self._number.get(word, _NONE)
        at = bisect_left(self._keys, key)
        return at if at < len(self._keys) and self._keys[at] == key else -1

    def set_names(self, names: Sequence[Sequence[str]]) -> None:
        """The shop's own names, in place of those given before: each of their words may come anywhere."""
        own: dict[tuple[str, ...], float] = {}
        for name in names:
            for at, word in enumerate(name):
                own[(word,)] = max(OWN, self._known((word,), OWN))
                if at:
                    own[(name[at - 1], word)] = NEXT
                if at > 1:
                    own[(name[at - 2], name[at - 1], word)] = NEXT
        self._own = own

    def _known(self, words: tuple[str, ...], otherwise: float) -> float:
        at = self._at(words)
        return self._logp[at] if at >= 0 else otherwise

    def knows(self, word: str) -> bool:
        """Whether the model has the word."""
        return self._at((word,)) >= 0 or (word,) in self._own

    def after(self, history: tuple[str, ...], word: str) -> float:
        """Log probability of a word after at most two others."""
        words = (*history, word)
        if words in self._own:
            return self._own[words]
        if (at := self._at(words)) >= 0:
            return self._logp[at]
        if not history:
            return UNKNOWN
        at = self._at(history)
        return (self._backoff[at] if at >= 0 else 0.0) + self.after(history[1:], word)

    def score(self, words: Sequence[str]) -> float:
        """Log probability of a whole sentence."""
        history: tuple[str, ...] = (START,)
        total = 0.0
        for word in (*words, END):
            total += self.after(history, word)
            history = (*history, word)[-2:]
        return total


def _grams(path: Path) -> Iterator[tuple[list[str], float, float]]:
    """Words that follow one another, with the log probability (base ten) of the last and the weight for going
    back to fewer words (0 where none is given)."""
    data = path.read_bytes()
    for line in BytesIO(gzip.decompress(data) if path.suffix == ".gz" else data):
        fields = line.decode("utf-8").split("\t")
        if len(fields) > 1:
            yield fields[1].split(), float(fields[0]), float(fields[2]) if len(fields) > 2 else 0.0


@lru_cache(maxsize=2)
def shared(path: Path) -> LanguageModel:
    """The model of a file, read once for both ears."""
    return LanguageModel(path)
