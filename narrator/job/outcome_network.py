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

from narrator.job.line import Line
from narrator.paths import MODELS
from narrator.word_network import WordNetwork, of_lines

FOLDER = MODELS / "outcomes"
LINES = 4
"""Lines that a network reads: one before the last, the last, two after."""
WORDS = 40
"""So many words at the end of a line are read."""


class OutcomeNetwork(WordNetwork):
    """The trained network; ``odds`` gives the log odds that a test found its thing good."""

    def odds(self, lines: Sequence[Line], after: Sequence[Line]) -> float:
        """Log odds of good: of a test's ``lines``, and those ``after`` it."""
        part = self._part
        told = [lines[-2].tokens if len(lines) > 1 else (), lines[-1].tokens]
        told += [line.tokens for line in after[: LINES - 2]]
        said = [n for n, words in enumerate(told) if words]
        read = np.zeros((LINES, 2 * len(part["even"])), np.float32)
        if said:
            read[said] = of_lines(*self.around([told[n][-WORDS:] for n in said]))
        hidden = np.maximum(read.ravel() @ part["hid"] + part["hid.bias"], 0)
        return float((hidden @ part["out"] + part["out.bias"])[0])


@lru_cache(maxsize=1)
def outcome_network(folder: Path = FOLDER) -> OutcomeNetwork | None:
    """The network as trained, or None where it was not installed."""
    path = folder / "network.npz"
    return OutcomeNetwork(path) if path.is_file() else None
