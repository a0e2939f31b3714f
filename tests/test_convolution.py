"""The network's arithmetic against the same written out place by place."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from narrator.convolution import OfPlaces, OfThree, OfWords, evened, laid

_RANDOM = np.random.default_rng(5)
_TABLE = np.vstack([np.zeros((1, 4)), _RANDOM.normal(size=(9, 4))]).astype(np.float32)
_NEAR = _RANDOM.normal(size=(3, 4, 6)).astype(np.float32)
_WIDE = _RANDOM.normal(size=(5, 6, 6)).astype(np.float32)
_BIAS = _RANDOM.normal(size=6).astype(np.float32)
_LINES = st.lists(st.lists(st.integers(1, 9), min_size=1, max_size=7), min_size=1, max_size=5)


def _plain(line: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """The convolution of one line, place by place; nothing lies before and behind it."""
    reach = len(weights) // 2
    out = np.zeros((len(line), weights.shape[2]))
    for place in range(len(line)):
        for step in range(-reach, reach + 1):
            if 0 <= place + step < len(line):
                out[place] += line[place + step] @ weights[reach + step]
    return np.maximum(out + _BIAS, 0)


@given(_LINES)
@settings(max_examples=60, deadline=None)
def test_each_line_is_convolved_by_itself(lines: list[list[int]]) -> None:
    apart = laid(lines, 2)
    near = OfWords(_TABLE, _NEAR, _BIAS)(apart)
    expected = [_plain(_TABLE[line], _NEAR) for line in lines]
    np.testing.assert_allclose(near, np.vstack(expected), rtol=1e-4, atol=1e-5)
    wide = OfPlaces(_WIDE, _BIAS)(near, apart)
    np.testing.assert_allclose(
        wide, np.vstack([_plain(one, _WIDE) for one in expected]), rtol=1e-3, atol=1e-4
    )


@given(_LINES)
@settings(max_examples=60, deadline=None)
def test_two_places_at_once_are_convolved_as_one_by_one(lines: list[list[int]]) -> None:
    apart = laid(lines, 1)
    near = OfWords(_TABLE, _NEAR, _BIAS)(apart)
    plain = OfPlaces(_WIDE[1:4], _BIAS)(near, apart)
    np.testing.assert_allclose(OfThree(_WIDE[1:4], _BIAS)(near, apart), plain, rtol=1e-3, atol=1e-4)


def test_a_words_share_is_kept_and_stays_right() -> None:
    near = OfWords(_TABLE, _NEAR, _BIAS)
    first = near(laid([[1, 2, 3]], 1))
    near(laid([[4, 1, 9]], 1))
    np.testing.assert_array_equal(near(laid([[1, 2, 3]], 1)), first)


def test_rows_are_evened() -> None:
    rows = _RANDOM.normal(3, 2, size=(5, 6)).astype(np.float32)
    even = evened(rows, np.ones(6, np.float32), np.zeros(6, np.float32), 1e-5)
    np.testing.assert_allclose(even.mean(axis=1), 0, atol=1e-6)
    np.testing.assert_allclose(even.std(axis=1), 1, rtol=1e-4)
