from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import psutil
import pytest

from narrator.errors import NarratorError
from narrator.hearing import apart
from narrator.hearing.apart import ApartDecoder, TendedDecoder, open_apart
from narrator.hearing.recognizer import open_decoder
from narrator.hearing.segmenter import Segment
from narrator.hearing.source import FileSource
from narrator.settings import Settings
from narrator.values import AudioChunk, Word

PIECE = Segment(16_000, np.linspace(-1, 1, 3_200).astype(np.float32), np.array([True] * 7 + [False] * 3))


def process(script: str) -> ApartDecoder:
    return ApartDecoder([sys.executable, "-m", "tests.hearing.scripted_engine", script])


def test_a_piece_goes_over_and_its_words_come_back() -> None:
    engine = process("works")
    try:
        assert (engine.name, engine.timing) == ("scripted", "aligned")
        for count in (3_200, 1_600):
            piece = replace(PIECE, samples=PIECE.samples[:count])
            assert engine.decode(piece) == [Word(f"7of{count}", 1.0, 1.0 + count / 16_000, 0.5, "other")]
        assert engine.memory() > 1_000_000
    finally:
        engine.close()
    assert engine.memory() == 0


def test_where_a_remark_ends_comes_back_too() -> None:
    engine = process("ends")
    try:
        assert [word.last for word in engine.decode(PIECE)] == [True]
    finally:
        engine.close()


@pytest.mark.parametrize(
    ("script", "why"), [("dies", "ended with 7"), ("fails", "no such state"), ("hangs", "ended with -9")]
)
def test_an_engine_that_goes_wrong_is_a_coded_error(
    script: str, why: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(apart, "_SLOWEST", -48.0)  # ten seconds of patience less nearly ten
    engine = process(script)
    try:
        with pytest.raises(NarratorError) as caught:
            engine.decode(PIECE)
        assert caught.value.code == "E606"
        assert why in caught.value.message
    finally:
        engine.close()


def test_an_engine_that_cannot_start_says_why() -> None:
    with pytest.raises(NarratorError) as caught:
        process("missing")
    assert "there is no model" in caught.value.message


def test_an_engine_that_is_not_there_is_told_of_as_where_it_runs_here(tmp_path: Path) -> None:
    for name, code in (("nonsense", "E202"), ("whisper", "E204")):
        with pytest.raises(NarratorError) as caught:
            open_apart(Settings(home=tmp_path), name)
        assert caught.value.code == code
        assert "started again" not in caught.value.remedy


def test_in_haste_one_ear_hears_and_its_name_says_so() -> None:
    engine = TendedDecoder(lambda: process("two ears"))
    try:
        engine.decode(PIECE)
        assert (engine.name, engine.timing) == ("scripted", "aligned")
        engine.haste = True
        assert engine.decode(PIECE)
        assert (engine.name, engine.timing) == ("one", "estimated")
    finally:
        engine.close()


class Weak:
    """Fails after so many pieces; grows by a byte a piece."""

    name, timing = "weak", "aligned"

    def __init__(self, lives: int) -> None:
        self.lives, self.size, self.closed = lives, 0, False

    def decode(self, segment: Segment) -> list[Word]:
        if self.lives == 0:
            raise NarratorError("E606", engine="weak", why="worn out")
        self.lives -= 1
        self.size += 1
        return [Word("yes", segment.start, segment.end)]

    def memory(self) -> int:
        return self.size

    def close(self) -> None:
        self.closed = True


def tended(
    *lives: int, limit: int = 99
) -> tuple[TendedDecoder, list[Weak], list[str], Callable[[float], None]]:
    made: list[Weak] = []
    told: list[str] = []
    now = [1_000.0]

    def opener() -> Weak:
        made.append(Weak(lives[len(made)]))
        return made[-1]

    def later(seconds: float) -> None:
        now[0] += seconds

    return (
        TendedDecoder(opener, told=lambda t, bad: told.append(t), limit=limit, clock=lambda: now[0]),
        made,
        told,
        later,
    )


def test_the_piece_that_an_engine_fails_on_is_heard_by_the_next() -> None:
    decoder, made, told, _ = tended(2, 5)
    assert [len(decoder.decode(PIECE)) for _ in range(4)] == [1, 1, 1, 1]
    assert made[0].closed
    assert decoder.restarts == 1
    assert any("worn out" in text for text in told)


def test_a_piece_that_no_engine_can_take_is_counted_and_the_next_one_heard() -> None:
    decoder, _, told, _ = tended(0, 0, 5)
    assert decoder.decode(PIECE) == []
    assert decoder.failures == 1
    assert "could not be turned into text" in told[-1]
    assert len(decoder.decode(PIECE)) == 1


def test_an_engine_that_grew_is_replaced_at_a_pause_but_not_all_the_time() -> None:
    decoder, made, _, later = tended(9, 9, 9, limit=2)
    assert not decoder.tend()
    for _ in range(3):
        decoder.decode(PIECE)
    assert decoder.tend()
    for _ in range(3):
        decoder.decode(PIECE)
    assert not decoder.tend(), "it was replaced a moment ago"
    later(601)
    assert decoder.tend()
    assert [one.closed for one in made] == [True, True, False]


@pytest.mark.engine
def test_the_real_engine_hears_the_same_apart(tmp_path: object) -> None:
    from pathlib import Path  # noqa: PLC0415

    settings = Settings(home=Path(str(tmp_path)))
    source = FileSource(Path(__file__).parent / "data" / "two_utterances.flac")
    samples = np.concatenate([one.samples for one in source if isinstance(one, AudioChunk)])[:48_000]
    piece = Segment(0, samples, np.ones(150, np.bool_))
    engine = open_apart(settings)
    pid = engine._process.pid
    try:
        assert engine.decode(piece) == open_decoder(settings).decode(piece)
    finally:
        engine.close()
    assert not psutil.pid_exists(pid)
