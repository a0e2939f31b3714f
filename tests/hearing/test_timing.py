from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from narrator.hearing.segmenter import Segment
from narrator.hearing.timing import spread_times
from narrator.hearing.voice import FRAME


def piece(voiced: list[bool], first: int = 0) -> Segment:
    return Segment(first, np.zeros(len(voiced) * FRAME, np.float32), np.array(voiced, bool))


def test_words_share_the_voiced_time_by_their_letters() -> None:
    (a, b) = spread_times(["bolt", "bolt"], piece([False] * 10 + [True] * 100 + [False] * 10, first=16_000))
    assert np.allclose([a, b], [(1.2, 2.15), (2.15, 3.1)])  # the last 0.1 s is the detector's tail


def test_a_pause_lies_between_words() -> None:
    (a, b) = spread_times(["nuts", "nuts"], piece([True] * 50 + [False] * 100 + [True] * 50))
    assert np.allclose([a, b], [(0.0, 0.9), (3.0, 3.9)])


def test_digits_take_as_long_as_words() -> None:
    (a, b) = spread_times(["12", "hundreds"], piece([True] * 95))
    assert np.allclose(a[1], b[0])
    assert np.allclose(a[1], 0.9)


def test_no_words_no_times_and_no_voice_uses_it_all() -> None:
    assert spread_times([], piece([True])) == []
    assert spread_times(["so"], piece([False] * 50)) == [(0.0, 0.9)]


@given(
    words=st.lists(st.text(max_size=9), min_size=1, max_size=12),
    voiced=st.lists(st.booleans(), min_size=1, max_size=80),
)
def test_times_are_in_order_and_inside(words: list[str], voiced: list[bool]) -> None:
    segment = piece(voiced, first=3200)
    times = spread_times(words, segment)
    flat = [t for pair in times for t in pair]
    assert flat == sorted(flat)
    assert len(times) == len(words)
    assert segment.start <= flat[0]
    assert flat[-1] <= segment.end + 1e-9
