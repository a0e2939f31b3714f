from __future__ import annotations

from difflib import SequenceMatcher
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from narrator.hearing.early import EarlyDecoder, open_early
from narrator.hearing.moonshine_engine import END, START
from narrator.hearing.moonshine_model import State
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME
from narrator.values import SAMPLE_RATE

DATA = Path(__file__).parent / "data"
WORDS = "two ten mil bolts come off the rear guard".split()
TOKENS = [b"", b"", b"", *(b"\xe2\x96\x81" + word.encode() for word in WORDS)]


class Reader:
    """Reads as many words as the piece has half seconds; what it heard first it may hear otherwise later."""

    def __init__(self) -> None:
        self.tokens = TOKENS
        self.steps = 0
        self.said: list[int] = []
        self.told: list[int] = []

    def encode(self, samples: NDArray[np.float32]) -> State:
        self.said = [*range(3, 3 + len(samples) * 2 // SAMPLE_RATE), END]
        if len(samples) > 2.9 * SAMPLE_RATE:
            self.said[1] = 11
        return State(samples, np.ones((1, len(samples)), np.int64))

    def begin(self, state: State, tokens: list[int]) -> NDArray[np.int64]:
        assert tokens[0] == START
        self.told = tokens
        return np.array((self.said + [END] * 9)[: len(tokens)])

    def step(self, state: State, token: int) -> NDArray[np.float32]:
        self.steps += 1
        logp = np.full(len(TOKENS), -9.0, np.float32)
        logp[self.said[self.said.index(token) + 1]] = 0.0
        return logp


def piece(seconds: float, first: int = 0) -> Segment:
    count = round(seconds * SAMPLE_RATE / FRAME)
    return Segment(first, np.full(count * FRAME, 0.1, np.float32), np.ones(count, np.bool_))


def read(decoder: EarlyDecoder, segment: Segment) -> str:
    return " ".join(word.word for word in decoder.decode(segment))


def test_only_what_is_new_is_read_word_by_word() -> None:
    network = Reader()
    decoder = EarlyDecoder(network)
    for count in range(2, 6):
        before = network.steps
        assert read(decoder, piece(count / 2)) == " ".join(WORDS[:count])
        assert network.steps - before == (1 if count > 2 else 2)
    assert len(network.told) == 5


def test_what_is_heard_otherwise_later_is_read_again_from_there() -> None:
    network = Reader()
    decoder = EarlyDecoder(network)
    read(decoder, piece(2.5))
    assert read(decoder, piece(3.0)) == "two guard mil bolts come off"
    assert read(decoder, piece(1.0, first=SAMPLE_RATE)) == " ".join(WORDS[:2])
    assert network.told == [START], "another piece begins without a guess"


@pytest.mark.engine
def test_the_bundled_model_reads_a_growing_piece_as_it_reads_the_whole() -> None:
    sound, rate = soundfile.read(DATA / "two_utterances.flac", dtype="float32")
    assert rate == SAMPLE_RATE
    whole = len(sound) // 2 // FRAME * FRAME
    last = range(FRAME * 40, whole + 1, FRAME * 10)[-1]
    decoder = open_early()
    growing = [
        read(decoder, Segment(0, sound[:end], np.ones(end // FRAME, np.bool_)))
        for end in range(FRAME * 40, whole + 1, FRAME * 10)
    ]
    afresh = read(open_early(), Segment(0, sound[:last], np.ones(last // FRAME, np.bool_)))
    assert SequenceMatcher(None, growing[-1], afresh).ratio() > 0.7
