"""Logistic regressions as the small models of numbers are trained: written out as weights by name."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]
_STILL = 1e-3
"""A feature that varies less is left as it is."""


def fit(
    rows: Sequence[Sequence[float]],
    answers: Sequence[bool],
    names: Sequence[str],
    penalty: float,
    digits: int = 4,
) -> dict[str, float]:
    """Weights of the features ``names`` (columns of ``rows``) and the ``bias``.

    Learned over features brought to the same spread, with an L2 penalty; the weights are of the plain ones.
    """
    x: Vector = np.array(rows)
    mean, spread = x.mean(axis=0), x.std(axis=0)
    spread[spread < _STILL] = 1.0
    table = np.hstack([(x - mean) / spread, np.ones((len(x), 1))])
    solved = descend(table, np.array(answers, dtype=np.float64), np.ones(len(x)), penalty)
    plain = solved[:-1] / spread
    weights = dict(zip(names, (round(float(w), digits) for w in plain), strict=True))
    return weights | {"bias": round(float(solved[-1] - plain @ mean), digits)}


def shares(rows: Sequence[Sequence[float]], names: Sequence[str], weights: dict[str, float]) -> Vector:
    """How likely each row is a yes."""
    odds = np.array(rows) @ [weights[name] for name in names] + weights["bias"]
    return np.asarray(1 / (1 + np.exp(-odds)))


def descend(x: Vector, y: Vector, counted: Vector, penalty: float) -> Vector:
    """Nesterov's accelerated gradient from zero; the bias (last column) is not penalised."""
    penalties = np.full(x.shape[1], penalty)
    penalties[-1] = 1e-3
    steepest = 0.25 * float(np.linalg.norm(x * np.sqrt(counted)[:, None], 2)) ** 2 + penalty
    w = ahead = np.zeros(x.shape[1])
    for step in range(600):
        chance = 1 / (1 + np.exp(-(x @ ahead)))
        gradient = x.T @ (counted * (chance - y)) + penalties * ahead
        following = ahead - gradient / steepest
        ahead = following + step / (step + 3) * (following - w)
        w = following
    return w
