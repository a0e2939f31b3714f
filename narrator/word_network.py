"""What the small networks of both rooms share: word vectors, and what stands around each word of a line.

Two convolutions (the second added on) and a layer normalization; the mean and the maximum over a line's words
stand for the line. Files are written by ``models.understanding.network.export``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from sys import intern

import numpy as np

from narrator.convolution import Numbers, OfPlaces, OfThree, OfWords, Vectors, evened, laid

NUMBER = "0"
"""The word of the table that stands for every token with a figure in it."""
_UNKNOWN = 1
"""The table's row of any word that is not in it; row 0 is nothing, what lies between lines."""
_SMALL = 1e-5


class WordNetwork:
    """The part of a trained network that reads words; ``path`` is its file."""

    def __init__(self, path: Path) -> None:
        with np.load(path) as kept:
            self._part: dict[str, Vectors] = {
                name: kept[name].astype(np.float32) for name in kept.files if name not in ("words", "rows")
            }
            rows = kept["rows"].astype(np.float32) * self._part["scale"][:, None]
            listed = str(kept["words"]).split("\n")
        part = self._part
        self._table: Vectors = np.vstack([np.zeros((1, rows.shape[1]), np.float32), rows])
        self._near = OfWords(self._table, part["near"], part["near.bias"])
        kind = OfThree if len(part["wide"]) == 3 else OfPlaces
        self._wide = kind(part["wide"], part["wide.bias"])
        self._reach = max(len(part["near"]), len(part["wide"])) // 2
        self._row = {intern(word): n + 2 for n, word in enumerate(listed)}

    @property
    def words(self) -> Iterable[str]:
        """Every word that has a vector."""
        return self._row.keys()

    def knows(self, word: str) -> bool:
        """Whether a word has a vector of its own."""
        return self.place(word) != _UNKNOWN

    def place(self, word: str) -> int:
        """The table's row of a word."""
        if word in self._row:
            return self._row[word]
        return self._row[NUMBER] if any(c.isdigit() for c in word) else _UNKNOWN

    def around(self, lines: Sequence[Sequence[str]]) -> tuple[Vectors, Numbers, Numbers]:
        """What stands around each word, all lines one after the other.

        Also where each line begins, and how many words it has (one, unknown, where it is empty).
        """
        part, row, place = self._part, self._row.get, self.place
        rows = [[row(w) or place(w) for w in words] or [_UNKNOWN] for words in lines]
        counts = np.array([len(one) for one in rows])
        apart = laid(rows, self._reach)
        around = self._near(apart)
        around += self._wide(around, apart)
        return evened(around, part["even"], part["even.bias"], _SMALL), np.cumsum(counts) - counts, counts


def of_lines(around: Vectors, starts: Numbers, counts: Numbers) -> Vectors:
    """Mean and maximum over the words of each line, from what ``around`` gave."""
    size = around.shape[1]
    whole = np.empty((len(starts), 2 * size), np.float32)
    for row, start, end in zip(whole, starts.tolist(), (starts + counts).tolist(), strict=True):
        words = around[start:end]  # reducing each by itself takes a quarter of the time of ``reduceat``
        np.add.reduce(words, axis=0, out=row[:size])
        np.maximum.reduce(words, axis=0, out=row[size:])
    whole[:, :size] /= counts[:, None]
    return whole
