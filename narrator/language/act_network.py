"""The half of the act model that knows what words mean: a small network over a line and those before it.

Word vectors, two convolutions over three words each, the mean and the maximum over the line, and a gated
recurrent unit (Cho et al. 2014, as PyTorch computes it) that carries the story from line to line; from the
line and the story come the scores. Trained by ``models.understanding.network`` to say what a far larger
encoder says, and small enough to run in numpy at some 0.1 ms a line (models/acts/card.md).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from narrator.paths import MODELS
from narrator.values import ACTS

FOLDER = MODELS / "acts"
NUMBER, QUESTION = "0", "?"
"""Words of the table that stand for every token with a figure in it, and for a question mark."""
_BLANK, _UNKNOWN = 0, 1
"""First rows of the table: nothing (what lies between lines), and any word that is not in it."""
_SMALL = 1e-5

Vectors = NDArray[np.float32]


class Network:
    """The trained network; ``score`` reads lines in order and carries the story on."""

    def __init__(self, path: Path) -> None:
        with np.load(path) as kept:
            self._part: dict[str, Vectors] = {
                name: kept[name].astype(np.float32) for name in kept.files if name not in ("words", "rows")
            }
            rows = kept["rows"].astype(np.float32) * self._part["scale"][:, None]
            listed = str(kept["words"]).split("\n")
        self._table: Vectors = np.vstack([np.zeros((1, rows.shape[1]), np.float32), rows])
        self._row = {word: n + 2 for n, word in enumerate(listed)}

    @property
    def words(self) -> Iterable[str]:
        """Every word that has a vector."""
        return self._row.keys()

    def start(self) -> Vectors:
        """The story before the first line."""
        return np.zeros(self._part["story.forget"].shape[0] // 3, np.float32)

    def score(self, lines: Sequence[Sequence[str]], story: Vectors) -> tuple[Vectors, Vectors]:
        """Scores (lines × ``ACTS``, each 0 to 1) of the next lines' words, and the story after them."""
        if not lines:
            return np.zeros((0, len(ACTS)), np.float32), story
        part = self._part
        read = self._read(lines)
        stories = self._tell(read, story)
        hidden = np.maximum(np.hstack([read, stories]) @ part["both"] + part["both.bias"], 0)
        odds = hidden @ part["acts"] + part["acts.bias"] + read @ part["alone"] + part["alone.bias"]
        scores: Vectors = 1 / (1 + np.exp(-odds))
        return scores, stories[-1]

    def place(self, word: str) -> int:
        """The table's row of a word."""
        if word in self._row:
            return self._row[word]
        return self._row[NUMBER] if any(c.isdigit() for c in word) else _UNKNOWN

    def _read(self, lines: Sequence[Sequence[str]]) -> Vectors:
        """What each line says: mean and maximum over its words, of what stands around each."""
        part = self._part
        places: list[int] = [_BLANK]
        starts: list[int] = []
        for words in lines:
            starts.append(len(places))
            places += [self.place(word) for word in words] or [_UNKNOWN]
            places.append(_BLANK)
        said = np.array(places) != _BLANK
        around = _convolved(self._table[places], part["near"], part["near.bias"]) * said[:, None]
        around = around + _convolved(around, part["wide"], part["wide.bias"]) * said[:, None]
        centred = around - around.mean(axis=1, keepdims=True)
        spread = np.sqrt(np.square(centred).mean(axis=1, keepdims=True) + _SMALL)
        even = centred / spread * part["even"] + part["even.bias"]
        even[~said] = 0.0
        counts = np.diff([*starts, len(places)]) - 1
        mean = np.add.reduceat(even, starts, axis=0) / counts[:, None]
        even[~said] = -np.inf
        return np.hstack([mean, np.maximum.reduceat(even, starts, axis=0)])

    def _tell(self, read: Vectors, story: Vectors) -> Vectors:
        """The story after each line."""
        part, size = self._part, len(story)
        given = read @ part["story.line"] + part["story.line.bias"]
        keep, keep_bias = part["story.forget"].T.copy(), part["story.forget.bias"]
        out = np.empty((len(read), size), np.float32)
        for n, line in enumerate(given):
            before = story @ keep + keep_bias
            gates = 1 / (1 + np.exp(-(line[: 2 * size] + before[: 2 * size])))
            fresh = np.tanh(line[2 * size :] + gates[:size] * before[2 * size :])
            story = (1 - gates[size:]) * fresh + gates[size:] * story
            out[n] = story
        return out


def _convolved(rows: Vectors, weights: Vectors, bias: Vectors) -> Vectors:
    """Each row with its neighbours (3 × inputs × outputs of weights), negative sums cut off."""
    out = rows @ weights[1]
    out[1:] += rows[:-1] @ weights[0]
    out[:-1] += rows[1:] @ weights[2]
    cut: Vectors = np.maximum(out + bias, 0)
    return cut


@lru_cache(maxsize=1)
def act_network(folder: Path = FOLDER) -> Network | None:
    """The network as trained, or None where it was not installed."""
    path = folder / "network.npz"
    return Network(path) if path.is_file() else None
