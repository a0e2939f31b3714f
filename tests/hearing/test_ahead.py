"""Both ears at once: what the second one hears while the dictation still does."""

from __future__ import annotations

import threading
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from narrator.hearing import ahead
from narrator.hearing.ahead import AheadEar, with_second_ear
from narrator.hearing.both_ears import BothEars
from narrator.hearing.moonshine_engine import open_decoder
from narrator.hearing.moonshine_model import State
from narrator.hearing.second_ear import FOLDER, ShopEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.source import FileSource
from narrator.paths import SAMPLE_SESSIONS
from narrator.settings import Settings
from narrator.values import AudioChunk, Word


@cache
def beginning() -> np.ndarray:
    """The first ten seconds of a sample."""
    parts: list[np.ndarray] = []
    for block in FileSource(SAMPLE_SESSIONS / "brake_drag" / "sound.opus"):
        if isinstance(block, AudioChunk):
            parts.append(block.samples)
        if sum(map(len, parts)) >= 160_000:
            break
    return np.concatenate(parts)


def piece(first: int, seconds: float) -> Segment:
    """Some of a sample's sound, all of it voiced."""
    samples = beginning()[first : first + round(16_000 * seconds)]
    assert len(samples) == round(16_000 * seconds)
    return Segment(first, samples, np.ones(len(samples) // 480, np.bool_))


def test_both_at_once_hear_what_one_after_the_other_hears(tmp_path: Path) -> None:
    first = open_decoder(Settings(home=tmp_path))
    both = with_second_ear(first, tmp_path / "vocabulary.toml")
    assert both is not None
    after = BothEars(first, ShopEar(FOLDER))
    for at in (16_000, 96_000):
        one = piece(at, 4.0)
        assert both.decode(one) == after.decode(one)
    assert both.name == after.name


def test_the_second_ear_hears_while_the_dictation_does(monkeypatch: pytest.MonkeyPatch) -> None:
    begun = threading.Event()

    def hear(self: ShopEar, segment: Segment) -> list[Word]:
        begun.set()
        return [Word("heard", segment.start, segment.end, 1.0)]

    monkeypatch.setattr(ShopEar, "hear", hear)
    ear, one = AheadEar(), piece(16_000, 1.0)
    ear.begin(one)
    assert begun.wait(10.0)  # before anybody asked for the words
    assert [word.word for word in ear.hear(one)] == ["heard"]
    other = piece(32_000, 1.0)
    ear.begin(one)
    assert ear.hear(other)[0].start == other.start  # what was begun with is not told of another piece


def test_the_shops_own_words_are_known_to_both(tmp_path: Path) -> None:
    both = with_second_ear(open_decoder(Settings(home=tmp_path)), tmp_path / "vocabulary.toml")
    assert both is not None
    assert both._ear.own is not None


def test_without_its_model_there_is_no_second_ear(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ahead.AheadEar.__init__, "__defaults__", (tmp_path / "none", None))
    assert with_second_ear(open_decoder(Settings(home=tmp_path))) is None


def test_what_all_texts_share_is_copied_once() -> None:
    part = np.arange(6, dtype=np.float32).reshape(1, 6)
    state = State(part, np.ones((1, 6), np.int64))
    five = state.spread("", part, 5)
    assert np.array_equal(five, np.repeat(part, 5, 0))
    assert np.shares_memory(state.spread("", part, 3), five)
    assert len(state.spread("", part, 6)) == 6
    other = part + 1
    assert np.array_equal(state.spread("", other, 2), np.repeat(other, 2, 0))
