"""Boosted decision trees as arrays: all rows go down all trees at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.float64]


class Trees:
    """Trained trees; ``path`` is a file of arrays (trees × nodes), a leaf being its own child."""

    def __init__(self, path: Path) -> None:
        with np.load(path) as kept:
            self._feature = kept["feature"].astype(np.int64)
            self._least = kept["threshold"].astype(np.float64)
            self._low = kept["low"].astype(np.int64)
            self._high = kept["high"].astype(np.int64)
            self._value = kept["value"].astype(np.float64)
            self._deep = int(kept["deep"])
        self._tree = np.arange(len(self._feature))[None, :]

    def odds(self, rows: Rows) -> Rows:
        """Log odds of each row (rows × features)."""
        at = np.zeros((len(rows), len(self._feature)), np.int64)
        each = np.arange(len(rows))[:, None]
        for _ in range(self._deep):
            here = (self._tree, at)
            low = rows[each, self._feature[here]] <= self._least[here]
            at = np.where(low, self._low[here], self._high[here])
        return np.asarray(self._value[self._tree, at].sum(axis=1))
