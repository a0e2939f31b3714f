"""The trade's trigram language model, read from an ARPA file."""

from __future__ import annotations

import gzip
import math
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

START, END = "<s>", "</s>"
UNKNOWN = -16.0
"""Log probability of a word that the model does not know."""
OWN, NEXT = -6.0, -0.7
"""Log probability of a name's word anywhere, and after the name's words before it."""
_TEN = math.log(10)


class LanguageModel:
    """Log probabilities (natural) of words after words."""

    def __init__(self, path: Path) -> None:
        self._logp: dict[tuple[str, ...], float] = {}
        self._backoff: dict[tuple[str, ...], float] = {}
        self._own: dict[tuple[str, ...], float] = {}
        data = path.read_bytes()
        text = (gzip.decompress(data) if path.suffix == ".gz" else data).decode("utf-8")
        for line in text.splitlines():
            fields = line.split("\t")
            if len(fields) < 2:
                continue
            words = tuple(fields[1].split())
            self._logp[words] = float(fields[0]) * _TEN
            if len(fields) > 2:
                self._backoff[words] = float(fields[2]) * _TEN

    def set_names(self, names: Sequence[Sequence[str]]) -> None:
        """The shop's own names, in place of those given before: each of their words may come anywhere."""
        own: dict[tuple[str, ...], float] = {}
        for name in names:
            for at, word in enumerate(name):
                own[(word,)] = max(OWN, self._logp.get((word,), OWN))
                if at:
                    own[(name[at - 1], word)] = NEXT
                if at > 1:
                    own[(name[at - 2], name[at - 1], word)] = NEXT
        self._own = own

    def knows(self, word: str) -> bool:
        """Whether the model has the word."""
        return (word,) in self._logp or (word,) in self._own

    def after(self, history: tuple[str, ...], word: str) -> float:
        """Log probability of a word after at most two others."""
        words = (*history, word)
        known = self._own.get(words, self._logp.get(words))
        if known is not None:
            return known
        if not history:
            return UNKNOWN
        return self._backoff.get(history, 0.0) + self.after(history[1:], word)

    def score(self, words: Sequence[str]) -> float:
        """Log probability of a whole sentence."""
        history: tuple[str, ...] = (START,)
        total = 0.0
        for word in (*words, END):
            total += self.after(history, word)
            history = (*history, word)[-2:]
        return total


@lru_cache(maxsize=2)
def shared(path: Path) -> LanguageModel:
    """The model of a file, read once for both ears."""
    return LanguageModel(path)
