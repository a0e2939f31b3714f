"""The half of the outcome model that knows what words mean: a small network over a test and what follows.

It reads four lines: the one before the test's last line, that line, and the two that come after. Word
vectors, two convolutions (over three and five words), the mean and the maximum over each line, and one
hidden layer. Trained by ``models.understanding.outcome_network`` to say what a far larger encoder says
(models/outcomes/card.md).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np

from narrator.job.line import Line
from narrator.paths import MODELS
from narrator.word_network import WordNetwork, of_lines

FOLDER = MODELS / "outcomes"
LINES = 4
"""Lines that a network reads: one before the last, the last, two after."""
_BATCH = 128
WORDS = 40
"""So many words at the end of a line are read."""


class OutcomeNetwork(WordNetwork):
    """The trained network; ``odds`` gives the log odds that a test found its thing good."""

    def read(self, lines: Iterable[Line]) -> None:
        """Read lines, each once: many together take a fraction of the time of a few for each test."""
        new = [line for line in dict.fromkeys(lines) if line.read is None and line.tokens]
        for start in range(0, len(new), _BATCH):
            some = new[start : start + _BATCH]
            wholes = of_lines(*self.around([line.tokens[-WORDS:] for line in some]))
            for line, whole in zip(some, wholes, strict=True):
                line.read = whole

    def odds(self, lines: Sequence[Line], after: Sequence[Line]) -> float:
        """Log odds of good: of a test's ``lines``, and those ``after`` it."""
        part = self._part
        told = [lines[-2] if len(lines) > 1 else None, lines[-1], *after[: LINES - 2]]
        self.read(line for line in told if line)
        read = np.zeros((LINES, 2 * len(part["even"])), np.float32)
        for row, line in zip(read, told, strict=False):
            if line is not None and line.read is not None:
                row[:] = line.read
        hidden = np.maximum(read.ravel() @ part["hid"] + part["hid.bias"], 0)
        return float((hidden @ part["out"] + part["out.bias"])[0])


@lru_cache(maxsize=1)
def outcome_network(folder: Path = FOLDER) -> OutcomeNetwork | None:
    """The network as trained, or None where it was not installed."""
    path = folder / "network.npz"
    return OutcomeNetwork(path) if path.is_file() else None
