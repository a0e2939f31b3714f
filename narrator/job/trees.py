"""Boosted decision trees as arrays: all rows go down all trees at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.float64]
Places = NDArray[np.int64]
_MOST = 7
"""After so many steps nearly all rows have come to a leaf: only the others go on."""


class Trees:
    """Trained trees; ``path`` is a file of arrays (trees × nodes), a leaf being its own child."""

    def __init__(self, path: Path) -> None:
        with np.load(path) as kept:
            trees, nodes = kept["feature"].shape
            self._feature = kept["feature"].astype(np.int64).ravel()
            self._least = kept["threshold"].astype(np.float64).ravel()
            self._value = kept["value"].astype(np.float64).ravel()
            self._deep = int(kept["deep"])
            self._first = nodes * np.arange(trees)
            below = np.stack((kept["high"], kept["low"]), axis=-1) + self._first[:, None, None]
            self._below: Places = below.astype(np.int64).ravel()
        """At ``2 n`` what lies below node ``n``, at ``2 n + 1`` what does where its value is low."""

    def odds(self, rows: Rows) -> Rows:
        """Log odds of each row (rows × features)."""
        at = np.tile(self._first, len(rows))
        starts = np.repeat(np.arange(len(rows)) * rows.shape[1], len(self._first))
        values = rows.ravel()
        at = self._down(at, starts, values, min(_MOST, self._deep))
        on = np.flatnonzero(self._below.take(2 * at) != at)
        at[on] = self._down(at.take(on), starts.take(on), values, self._deep - _MOST)
        return np.asarray(self._value.take(at).reshape(len(rows), -1).sum(axis=1))

    def _down(self, at: Places, starts: Places, values: Rows, steps: int) -> Places:
        """Where one comes from some nodes in so many steps, by the values from these places on."""
        for _ in range(steps):
            low = values.take(self._feature.take(at) + starts) <= self._least.take(at)
            at = self._below.take(2 * at + low)
        return at
