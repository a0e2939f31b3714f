"""Text while it is being said: the bundled recognizer read greedily, since it is read again and again.

Each time the piece is a little longer and its text nearly the same; so the text of the time before is read in
one step, and only what differs is decoded word by word. (The model computes in eight bits, so that words read
at once are not always those read one by one.)
"""

from __future__ import annotations

import math
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.hearing import moonshine_engine
from narrator.hearing.moonshine_engine import (
    END,
    START,
    TOKENS_A_SECOND,
    Token,
    group_words,
    model_folder,
    tuned,
)
from narrator.hearing.moonshine_model import MoonshineModel, State
from narrator.hearing.segmenter import Segment
from narrator.hearing.slips import loop_start
from narrator.hearing.timing import spread_times
from narrator.values import SAMPLE_RATE, Word


class Network(moonshine_engine.Network, Protocol):
    """That, and reading several tokens at once."""

    def begin(self, state: State, tokens: list[int]) -> NDArray[np.int64]:
        """The likeliest token after each of the first tokens."""
        ...


class EarlyDecoder:
    """A ``Decoder`` for pieces that grow. Its words have no confidence, its times are estimated."""

    name = "moonshine-tiny-en-early"
    timing: Literal["aligned", "estimated"] = "estimated"

    def __init__(self, network: Network) -> None:
        self._network = network
        self._first = -1
        self._guess: list[int] = []

    def decode(self, segment: Segment) -> list[Word]:
        """Words of the piece so far."""
        if segment.first != self._first:
            self._first, self._guess = segment.first, []
        ids = self._greedy(segment)
        if (at := loop_start(ids)) is not None:
            ids = ids[:at]
        self._guess = ids
        words = [text for text, _ in group_words([Token(self._network.tokens[i], 0.0) for i in ids])]
        times = spread_times(words, segment)
        return [Word(text, *time, None) for text, time in zip(words, times, strict=True)]

    def _greedy(self, segment: Segment) -> list[int]:
        state = self._network.encode(segment.samples)
        limit = math.ceil(len(segment.samples) / SAMPLE_RATE * TOKENS_A_SECOND)
        guess = self._guess[:limit]
        likeliest = self._network.begin(state, [START, *guess]).tolist()
        same = next((i for i, token in enumerate(guess) if token != likeliest[i]), len(guess))
        ids, token = guess[:same], likeliest[same]
        state.back_to(same + 1)
        while token != END and len(ids) < limit and loop_start(ids) is None:
            ids.append(token)
            token = int(self._network.step(state, token).argmax())
        return ids


def open_early() -> EarlyDecoder:
    """The bundled model's.

    Raises:
        NarratorError: E204 without the model, E205 when it cannot be loaded.
    """
    folder = model_folder()
    if folder is None:
        raise NarratorError("E204", engine="moonshine", why="its package is missing")
    try:
        return EarlyDecoder(MoonshineModel(folder, tuned(folder)))
    except Exception as error:  # onnxruntime raises its own classes, which share no base but this
        raise NarratorError("E205", path=folder, why=str(error).splitlines()[0]) from error
