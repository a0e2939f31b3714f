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
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from narrator.paths import MODELS
from narrator.values import ACTS

FOLDER = MODELS / "acts"
NUMBER, QUESTION = "0", "?"
"""Words of the table that stand for every token with a figure in it, and for a question mark."""
TAGS = (
    "nothing",
    "first component", "more component", "first tool", "more tool", "first material", "more material",
)  # fmt: skip
"""What a word is of: nothing that the work is about, or the first or a further word of a thing's name."""
_BLANK, _UNKNOWN = 0, 1
"""First rows of the table: nothing (what lies between lines), and any word that is not in it."""
_SMALL = 1e-5

Vectors = NDArray[np.float32]


class Read(NamedTuple):
    """One line as the network read it by itself."""

    line: Vectors
    """Mean and maximum over its words."""
    tags: Vectors
    """Words × ``TAGS``: how likely each is."""
    meant: Vectors
    """How likely each word is said of what the line suspects, clears or settles, if it does."""


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
        return self.acts(np.array([read.line for read in self.read(lines)]), story)

    def acts(self, read: Vectors, story: Vectors) -> tuple[Vectors, Vectors]:
        """The same from lines already read (lines × their numbers)."""
        if not len(read):
            return np.zeros((0, len(ACTS)), np.float32), story
        part = self._part
        stories = self._tell(read, story)
        hidden = np.maximum(np.hstack([read, stories]) @ part["both"] + part["both.bias"], 0)
        odds = hidden @ part["acts"] + part["acts.bias"] + read @ part["alone"] + part["alone.bias"]
        return _share(odds), stories[-1]

    def read(self, lines: Sequence[Sequence[str]]) -> list[Read]:
        """What each line says by itself, and what each of its words is."""
        if not lines:
            return []
        even, starts, counts = self._words(lines)
        part = self._part
        mean = np.add.reduceat(even, starts, axis=0) / counts[:, None]
        odds = even @ part["tag"] + part["tag.bias"]
        tags = np.exp(odds - odds.max(axis=1, keepdims=True))
        tags /= tags.sum(axis=1, keepdims=True)
        between = np.ones(len(even), bool)
        for start, count in zip(starts, counts, strict=True):
            between[start : start + count] = False
        even[between] = -np.inf
        whole = np.hstack([mean, np.maximum.reduceat(even, starts, axis=0)])
        of_line = whole @ part["meant"][even.shape[1] :] + part["meant.bias"]
        even[between] = 0.0
        of_word = even @ part["meant"][: even.shape[1]]
        of_word += np.repeat(of_line, np.diff([*starts, len(even)]), axis=0)
        meant = _share(np.maximum(of_word, 0) @ part["subject"] + part["subject.bias"])[:, 0]
        ends = [a + n for a, n in zip(starts, counts.tolist(), strict=True)]
        return [Read(line, tags[a:b], meant[a:b]) for line, a, b in zip(whole, starts, ends, strict=True)]

    def knows(self, word: str) -> bool:
        """Whether a word has a vector of its own."""
        return self.place(word) != _UNKNOWN

    def place(self, word: str) -> int:
        """The table's row of a word."""
        if word in self._row:
            return self._row[word]
        return self._row[NUMBER] if any(c.isdigit() for c in word) else _UNKNOWN

    def _words(self, lines: Sequence[Sequence[str]]) -> tuple[Vectors, list[int], NDArray[np.int64]]:
        """What stands around each word, one line after the other with a row of zeros behind each.

        Also where each line begins, and how many words it has (one, unknown, where it is empty).
        """
        part = self._part
        places: list[int] = []
        starts: list[int] = []
        for words in lines:
            starts.append(len(places))
            places += [self.place(word) for word in words] or [_UNKNOWN]
            places += (_BLANK, _BLANK)  # as many as the wider convolution reaches
        said = (np.array(places) != _BLANK)[:, None]
        around = _convolved(self._table[places], part["near"], part["near.bias"]) * said
        around = around + _convolved(around, part["wide"], part["wide.bias"]) * said
        centred = around - around.mean(axis=1, keepdims=True)
        spread = np.sqrt(np.square(centred).mean(axis=1, keepdims=True) + _SMALL)
        even = (centred / spread * part["even"] + part["even.bias"]) * said
        return even.astype(np.float32), starts, np.diff([*starts, len(places)]) - 2

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
    """Each row with its neighbours (places × inputs × outputs of weights), negative sums cut off."""
    reach = len(weights) // 2
    out = rows @ weights[reach]
    for step in range(1, reach + 1):
        out[step:] += rows[:-step] @ weights[reach - step]
        out[:-step] += rows[step:] @ weights[reach + step]
    cut: Vectors = np.maximum(out + bias, 0)
    return cut


def _share(odds: NDArray[np.floating[Any]]) -> Vectors:
    scores: Vectors = (1 / (1 + np.exp(-odds))).astype(np.float32)
    return scores


@lru_cache(maxsize=1)
def act_network(folder: Path = FOLDER) -> Network | None:
    """The network as trained, or None where it was not installed."""
    path = folder / "network.npz"
    return Network(path) if path.is_file() else None
