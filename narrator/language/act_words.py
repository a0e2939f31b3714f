"""The half of the act model that knows what words mean: a table of word vectors and a linear layer over them.

A line is the sum of its words' vectors, and of its first three words' apart (how a line opens tells much of
what it does), beside half of the line before. The table and the layer are written by
``models.understanding.word_vectors`` and ``models.understanding.train_acts`` (models/acts/card.md).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from narrator.paths import MODELS
from narrator.values import ACTS

FOLDER = MODELS / "acts"
OPENING = 3
"""How many known words count as the opening of a line."""
_OPENING_WEIGHT = 0.6
_BEFORE_WEIGHT = 0.5
_LENGTH = 3.0
"""Length of a line's vector: what the layer's regularization is tuned to."""

Vectors = NDArray[np.float32]


class WordTable:
    """Word vectors by word; 8 bits a number, expanded when read."""

    def __init__(self, path: Path) -> None:
        with np.load(path) as kept:
            rows, scale = kept["rows"].astype(np.float32), kept["scale"]
            self._row = {word: n for n, word in enumerate(str(kept["words"]).split("\n"))}
        self._table: Vectors = rows * scale[:, None]
        self.width = 2 * rows.shape[1]

    @property
    def words(self) -> Iterable[str]:
        """Every word that has a vector."""
        return self._row.keys()

    def line(self, words: Sequence[str]) -> Vectors:
        """The vector of a line (``width`` numbers); zeros where no word is known."""
        known = [n for n in map(self._row.get, words) if n is not None]
        out = np.zeros(self.width, np.float32)
        if known:
            rows = self._table[known]
            half = self.width // 2
            out[:half] = _unit(rows.sum(axis=0))
            out[half:] = _unit(rows[:OPENING].sum(axis=0)) * _OPENING_WEIGHT
            out *= _LENGTH / float(np.linalg.norm(out))
        return out


def _unit(vector: Vectors) -> Vectors:
    length = float(np.linalg.norm(vector))
    return vector / length if length > 0 else vector


@dataclass(frozen=True, slots=True)
class WordPass:
    """A linear layer over a line's vector and half of the one before it; sigmoid scores of each act."""

    table: WordTable
    weights: Vectors
    """2 × width rows, one column for each of ``ACTS``."""
    bias: Vectors

    def score(self, lines: Vectors, before: Vectors) -> Vectors:
        """Scores (lines × ``ACTS``); ``before`` is the vector of the line before the first one."""
        if not len(lines):
            return np.zeros((0, len(ACTS)), np.float32)
        scores: Vectors = 1 / (1 + np.exp(-(stacked(lines, before) @ self.weights + self.bias)))
        return scores


def stacked(lines: Vectors, before: Vectors) -> Vectors:
    """Each line's vector beside half of the one before it."""
    return np.hstack([lines, _BEFORE_WEIGHT * np.vstack([before[None], lines[:-1]])])


@lru_cache(maxsize=1)
def word_table(folder: Path = FOLDER) -> WordTable | None:
    """The table, or None where it was not installed."""
    path = folder / "words.npz"
    return WordTable(path) if path.is_file() else None


@lru_cache(maxsize=1)
def word_pass(folder: Path = FOLDER) -> WordPass | None:
    """The table with its layer, or None where either was not installed."""
    table, path = word_table(folder), folder / "layer.npz"
    if table is None or not path.is_file():
        return None
    with np.load(path) as kept:
        return WordPass(table, kept["weights"].astype(np.float32), kept["bias"].astype(np.float32))
