from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from narrator.hearing.segmenter import Segment, Segmenter, SegmentOptions, split
from narrator.hearing.voice import FRAME
from narrator.values import SAMPLE_RATE, AudioChunk
from tests.hearing.fakes import LoudIsSpeech, chunks, sound


def cut(samples: np.ndarray, size: int = 1600, options: SegmentOptions | None = None) -> list[Segment]:
    segmenter = Segmenter(options, LoudIsSpeech())
    found = [s for chunk in chunks(samples, size) for s in segmenter.accept(chunk)]
    return found + segmenter.finish()


def test_a_pause_ends_an_utterance_and_padding_surrounds_it() -> None:
    options = SegmentOptions(before=0.2, after=0.3)
    one, two = cut(sound((1, False), (2, True), (1.5, False), (1, True), (2, False)), options=options)
    assert (one.start, one.end) == (0.8, 3.3)
    assert one.spoken() == (1.0, 3.0)
    assert (two.start, two.end) == (4.3, 5.8)


def test_a_short_pause_does_not_end_an_utterance() -> None:
    (one,) = cut(sound((1, False), (1, True), (0.4, False), (1, True), (2, False)))
    assert np.allclose(one.spoken(), (1.0, 3.4))


def test_silence_and_lone_clicks_give_nothing() -> None:
    assert cut(sound((5, False))) == []
    assert cut(sound((1, False), (0.04, True), (1, False), (0.04, True), (1, False))) == []
    assert cut(np.zeros(0, np.float32)) == []


def test_speech_up_to_the_last_sample_is_kept() -> None:
    samples = sound((0.5, False), (1, True))[:-7]
    (one,) = cut(samples)
    assert one.first + len(one.samples) == len(samples)
    assert np.array_equal(one.samples, samples[one.first :])


def test_long_speech_is_cut_at_its_longest_pause() -> None:
    # 11 s of speech, a pause too short to end an utterance of that length, then 8 s more
    samples = sound((11, True), (0.14, False), (8, True), (2, False))
    one, two = cut(samples)
    assert 11.0 <= one.end <= 11.14
    assert two.first == one.first + len(one.samples)


def test_endless_speech_is_cut_at_the_quietest_point_and_loses_nothing() -> None:
    samples = sound((40, True), (1, False))
    samples[12 * SAMPLE_RATE : 12 * SAMPLE_RATE + 1600] *= 0.45
    samples[12 * SAMPLE_RATE : 12 * SAMPLE_RATE + 1600 : FRAME] = 0.2  # still loud enough to be speech
    found = cut(samples)
    assert len(found[0].samples) / SAMPLE_RATE < 12.2
    assert found[0].end >= 12.0
    assert all(len(s.samples) <= 15 * SAMPLE_RATE for s in found)
    for left, right in pairwise(found):
        assert right.first == left.first + len(left.samples)


def test_a_longer_piece_ends_at_a_shorter_pause() -> None:
    assert len(cut(sound((2, True), (0.5, False), (2, True), (2, False)))) == 1
    assert len(cut(sound((11, True), (0.5, False), (2, True), (2, False)))) == 2


def test_a_jump_of_the_clock_ends_the_piece() -> None:
    segmenter = Segmenter(None, LoudIsSpeech())
    speech = sound((1, True))
    assert segmenter.accept(AudioChunk(speech, 0)) == []
    (one,) = segmenter.accept(AudioChunk(speech, 80_000))
    (two,) = segmenter.finish()
    assert (one.start, one.end, two.start, two.end) == (0.0, 1.0, 5.0, 6.0)


def test_the_open_piece_can_be_seen() -> None:
    segmenter = Segmenter(None, LoudIsSpeech())
    assert segmenter.open() is None
    segmenter.accept(AudioChunk(sound((1, True)), 0))
    piece = segmenter.open()
    assert piece is not None
    assert len(piece.samples) == SAMPLE_RATE
    assert segmenter.open_seconds == 1.0


def test_split_touches_and_prefers_the_pause() -> None:
    (one,) = cut(sound((2, True), (0.2, False), (2, True), (2, False)))
    left, right = split(one)
    assert left.first + len(left.samples) == right.first
    assert np.array_equal(np.concatenate([left.samples, right.samples]), one.samples)
    assert 2.0 <= left.end <= 2.2


part = st.tuples(st.integers(1, 60).map(lambda n: n / 10), st.booleans())


@settings(max_examples=25, deadline=None)
@given(parts=st.lists(part, min_size=1, max_size=8), size=st.integers(100, 50_000), tail=st.integers(0, 319))
def test_every_voiced_frame_is_in_one_segment_however_it_is_chunked(
    parts: list[tuple[float, bool]], size: int, tail: int
) -> None:
    samples = sound(*parts)[: -tail or None]
    found = cut(samples, size)
    owner = np.zeros(len(samples), int)
    for segment in found:
        owner[segment.first : segment.first + len(segment.samples)] += 1
        assert np.array_equal(segment.samples, samples[segment.first :][: len(segment.samples)])
    frames = np.abs(samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME)).max(axis=1) > 0.1
    assert owner.max(initial=0) <= 1
    assert np.all(owner[: len(frames) * FRAME].reshape(-1, FRAME)[frames] == 1)
    again = cut(samples, 1600)
    assert [(s.first, len(s.samples)) for s in found] == [(s.first, len(s.samples)) for s in again]
