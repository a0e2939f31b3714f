"""Logistic regressions as the small models of numbers are trained: written out as weights by name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

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


def choose(
    groups: Sequence[tuple[Sequence[dict[str, float]], Sequence[bool], bool]],
    names: Sequence[str],
    penalty: float,
    digits: int = 3,
    steps: int = 400,
) -> dict[str, float]:
    """Weights of the features ``names`` and the ``bias`` by which one of several things is chosen, or none.

    A group holds what is looked at of each thing, which of them are right, and whether none is. Learned over
    features brought to the same spread, with an L2 penalty, by Adam from zero.
    """
    kept = [group for group in groups if group[0] and (any(group[1]) or group[2])]
    rows = np.array([[f.get(n, 0.0) for n in names] for fs, _, _ in kept for f in fs])
    spread = rows.std(axis=0)
    spread[spread < _STILL] = 1.0
    width, x, at, right = len(names), [], [], []
    place = 0
    for n, (found, yes, none) in enumerate(kept):
        some = rows[place : place + len(found)] / spread
        place += len(found)
        x += [np.hstack([some, np.ones((len(found), 1))]), np.zeros((1, width + 1))]
        at += [n] * (len(found) + 1)
        right += [*yes, none]
    solved = _ascend(_Choices(np.vstack(x), np.array(at), np.array(right)), penalty, steps)
    plain = solved[:-1] / spread
    weights = dict(zip(names, (round(float(w), digits) for w in plain), strict=True))
    return {n: w for n, w in weights.items() if w} | {"bias": round(float(solved[-1]), digits)}


class _Choices(NamedTuple):
    """Rows of things and of choosing none, the group of each, and which are right."""

    x: Vector
    at: NDArray[np.int64]
    right: NDArray[np.bool_]


def _ascend(table: _Choices, penalty: float, steps: int) -> Vector:
    """The weights under which the right rows of each group are likeliest; the bias is not penalised."""
    x, at, right = table
    groups = int(at.max()) + 1
    penalties = np.full(x.shape[1], penalty)
    penalties[-1] = 0.0
    w, mean, square = (np.zeros(x.shape[1]) for _ in range(3))
    for step in range(1, steps + 1):
        odds = x @ w
        most = np.full(groups, -np.inf)
        np.maximum.at(most, at, odds)
        share = np.exp(odds - most[at])
        share /= np.bincount(at, share, groups)[at]
        wanted = share * right
        wanted /= np.maximum(np.bincount(at, wanted, groups), 1e-12)[at]
        gradient = x.T @ (share - wanted) + penalties * w
        mean = 0.9 * mean + 0.1 * gradient
        square = 0.999 * square + 0.001 * gradient**2
        w = w - 0.05 * (mean / (1 - 0.9**step)) / (np.sqrt(square / (1 - 0.999**step)) + 1e-8)
    return w
