"""The arithmetic of the act network that is not said in one line: what stands around each word of many lines.

All lines of a batch stand one after the other in one table of words; between lines, and at both ends, lie as
many empty places as the wider convolution reaches, so that no line sees another.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

Vectors = NDArray[np.float32]
Numbers = NDArray[np.int64]


class Laid(NamedTuple):
    """Lines one after the other: the table's row at each place (0 where nothing is), and where words are."""

    rows: Numbers
    at: Numbers


def laid(lines: Sequence[Sequence[int]], reach: int) -> Laid:
    """Lay lines out (each the table's rows of its words, none 0) with ``reach`` empty places around each."""
    between = [0] * reach
    places = between[:]
    for rows in lines:
        places += rows
        places += between
    every = np.array(places, np.int64)
    return Laid(every, np.flatnonzero(every))


class OfWords:
    """A convolution straight over word vectors (outputs cut off below zero).

    What a word adds to a place is the same wherever it stands, so it is worked out when the word is first
    read and kept: this saves a third of the network's work. ``np.empty`` takes memory only for what is kept.
    """

    def __init__(self, table: Vectors, weights: Vectors, bias: Vectors) -> None:
        self._table, self._weights, self._bias = table, weights, bias
        self._reach = len(weights) // 2
        self._shares: Vectors = np.empty((len(weights), len(table), weights.shape[2]), np.float32)
        self._known = np.zeros(len(table), bool)

    def __call__(self, lines: Laid) -> Vectors:
        """Words × outputs."""
        self._learn(lines.rows)
        reach, rows, at = self._reach, lines.rows, lines.at
        out: Vectors = self._shares[reach].take(rows[at], axis=0)
        for step in (*range(-reach, 0), *range(1, reach + 1)):
            out += self._shares[reach + step].take(rows[at + step], axis=0)
        out += self._bias
        return np.maximum(out, 0, out=out)

    def _learn(self, rows: Numbers) -> None:
        new = np.unique(rows[~self._known[rows]])
        if len(new):
            self._shares[:, new] = self._table[new] @ self._weights
            self._known[new] = True


class OfThree:
    """A convolution over a place and its two neighbours (outputs cut off below zero).

    Two places at once take four products where place by place they take six (Winograd's minimal filtering,
    F(2,3): Lavin and Gray 2016, formulas from memory; a test holds them against the plain ones).
    """

    def __init__(self, weights: Vectors, bias: Vectors) -> None:
        first, second, third = weights
        ends = first + third
        self._weights = (first, (ends + second) / 2, (ends - second) / 2, third)
        self._bias = bias

    def __call__(self, words: Vectors, lines: Laid) -> Vectors:
        """Words × outputs, from words × inputs."""
        pairs, size = (len(lines.rows) + 1) // 2, words.shape[1]
        apart = np.zeros((2 * pairs + 2, size), np.float32)
        apart[lines.at + 1] = words
        two = apart.reshape(pairs + 1, 2, size)
        before, one, other, after = two[:-1, 0], two[:-1, 1], two[1:, 0], two[1:, 1]
        first, plus, minus, third = self._weights
        given = before - other  # written over by what the other products are given: memory is slow
        left = given @ first
        right = np.add(one, other, out=given) @ plus
        left += right
        part = np.subtract(other, one, out=given) @ minus
        both = np.empty((pairs, 2, part.shape[1]), np.float32)
        np.add(left, part, out=both[:, 0])
        right -= part
        np.subtract(right, np.matmul(np.subtract(one, after, out=given), third, out=part), out=both[:, 1])
        found: Vectors = both.reshape(2 * pairs, -1)[lines.at]
        found += self._bias
        return np.maximum(found, 0, out=found)


class OfPlaces:
    """A convolution over what is known of each place (outputs cut off below zero)."""

    def __init__(self, weights: Vectors, bias: Vectors) -> None:
        self._width = len(weights)
        self._weights: Vectors = np.ascontiguousarray(weights.reshape(-1, weights.shape[2]))
        self._bias = bias

    def __call__(self, words: Vectors, lines: Laid) -> Vectors:
        """Words × outputs, from words × inputs; a word and its neighbours in one row, times all weights."""
        size = words.shape[1]
        apart = np.zeros((len(lines.rows), size), np.float32)
        apart[lines.at] = words
        windows = sliding_window_view(apart.reshape(-1), self._width * size)
        out: Vectors = windows[(lines.at - self._width // 2) * size] @ self._weights
        out += self._bias
        return np.maximum(out, 0, out=out)


def evened(words: Vectors, scale: Vectors, bias: Vectors, small: float) -> Vectors:
    """Each row brought to mean 0 and spread 1, then scaled and moved (layer normalization); in place."""
    size = words.shape[1]
    words -= (words @ np.full(size, 1 / size, np.float32))[:, None]
    spread: Vectors = np.einsum("ij,ij->i", words, words) / np.float32(size)
    words *= (1 / np.sqrt(spread + np.float32(small)))[:, None]
    words *= scale
    words += bias
    return words
