"""The half of the outcome model that knows what words mean: a small network over a test and what follows.

It reads four lines: the one before the test's last line, that line, and the two that come after. Word
vectors, two convolutions (over three and five words), the mean and the maximum over each line, and one
hidden layer. Trained by ``models.understanding.outcome_network`` to say what a far larger encoder says
(models/outcomes/card.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from narrator.job.line import Line
from narrator.paths import MODELS

FOLDER = MODELS / "outcomes"
LINES = 4
"""Lines that a network reads: one before the last, the last, two after."""
WORDS = 40
"""So many words at the end of a line are read."""
NUMBER = "0"
"""The word of the table that stands for every token with a figure in it."""
_UNKNOWN = 1
_SMALL = 1e-5
Vectors = NDArray[np.float32]


class OutcomeNetwork:
    """The trained network; ``odds`` gives the log odds that a test found its thing good."""

    def __init__(self, path: Path) -> None:
        with np.load(path) as kept:
            listed = str(kept["words"]).split("\n")
            self._part: dict[str, Vectors] = {
                name: kept[name].astype(np.float32) for name in kept.files if name != "words"
            }
        rows = self._part["rows"] * self._part["scale"][:, None]
        self._table: Vectors = np.vstack([np.zeros((1, rows.shape[1]), np.float32), rows])
        self._row = {word: n + 2 for n, word in enumerate(listed)}

    def odds(self, lines: Sequence[Line], after: Sequence[Line]) -> float:
        """Log odds of good: of a test's ``lines``, and those ``after`` it."""
        part = self._part
        told = [lines[-2].tokens if len(lines) > 1 else (), lines[-1].tokens]
        told += [line.tokens for line in after[: LINES - 2]]
        told += [()] * (LINES - len(told))
        read = np.concatenate([self._line(words) for words in told])
        hidden = np.maximum(read @ part["hid"] + part["hid.bias"], 0)
        return float((hidden @ part["out"] + part["out.bias"])[0])

    def _line(self, words: Sequence[str]) -> Vectors:
        """Mean and maximum over a line's words of what stands around each; nought where nothing is said."""
        part = self._part
        if not words:
            return np.zeros(2 * len(part["even"]), np.float32)
        near = _around(self._table[self._places(words)], part["near"], part["near.bias"])
        even = near + _around(near, part["wide"], part["wide.bias"])
        even = even - even.mean(axis=1, keepdims=True)
        even /= np.sqrt((even**2).mean(axis=1, keepdims=True) + np.float32(_SMALL))
        even = even * part["even"] + part["even.bias"]
        return np.concatenate([even.mean(axis=0), even.max(axis=0)])

    def _places(self, words: Sequence[str]) -> list[int]:
        row, number = self._row, self._row[NUMBER]
        return [row.get(w, number if any(c.isdigit() for c in w) else _UNKNOWN) for w in words[-WORDS:]]


def _around(words: Vectors, weights: Vectors, bias: Vectors) -> Vectors:
    """A convolution (width × inputs × outputs) over words × inputs, cut off below zero."""
    reach = len(weights) // 2
    apart = np.pad(words, ((reach, reach), (0, 0)))
    out = sum((apart[k : k + len(words)] @ share for k, share in enumerate(weights)), start=bias)
    return np.maximum(out, 0)


@lru_cache(maxsize=1)
def outcome_network(folder: Path = FOLDER) -> OutcomeNetwork | None:
    """The network as trained, or None where it was not installed."""
    path = folder / "network.npz"
    return OutcomeNetwork(path) if path.is_file() else None
