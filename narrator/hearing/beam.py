"""Steered decoding: a beam over the bundled model's tokens, with the trade's language model weighing each
whole word.

Shallow fusion: a text's score is the model's log probability, plus a weight times how much likelier the
trade's language makes its words than their mean, as each word is completed. Figures count as the words they
are said in.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from narrator.hearing.language_model import START as SENTENCE
from narrator.hearing.language_model import LanguageModel
from narrator.hearing.slips import loop_start
from narrator.hearing.spoken import in_words

BEAM, BRANCH = 5, 5
"""Texts kept, and tokens tried after each."""
_START, _END = 1, 2
_TYPICAL = -6.0
"""Log probability of a usual word of the trade: likelier words gain, rarer ones lose, so that length
costs nothing."""
_RAREST = -11.0
"""No word loses more than this says: what the language model does not know may still have been said."""


class Network(Protocol):
    """The part of ``moonshine_model.MoonshineModel`` that a beam needs."""

    tokens: list[bytes]

    def encode(self, samples: NDArray[np.float32]) -> Any:
        """Read a piece of sound and give the state before its first token."""
        ...

    def step(self, state: Any, token: int) -> NDArray[np.float32]:
        """Log probabilities after one text."""
        ...

    def step_many(self, state: Any, tokens: list[int], parents: list[int]) -> NDArray[np.float32]:
        """Log probabilities after each of several texts."""
        ...


@dataclass(frozen=True, slots=True)
class Text:
    """A text of the beam: tokens, each one's log probability, the gain by the language model, its last
    words."""

    ids: tuple[int, ...] = ()
    logps: tuple[float, ...] = ()
    gain: float = 0.0
    history: tuple[str, ...] = (SENTENCE,)
    open_: bytes = b""
    row: int = 0

    @property
    def logp(self) -> float:
        """The model's own log probability."""
        return sum(self.logps)


class Steering:
    """Weighs whole words by the language model."""

    def __init__(self, language: LanguageModel, weight: float) -> None:
        self._language, self._weight = language, weight

    def with_word(self, text: Text, word: bytes) -> tuple[float, tuple[str, ...]]:
        """Gain and history after a completed word."""
        gain, history = text.gain, text.history
        for said in in_words(word.decode("utf-8", "ignore")).split():
            likely = max(_RAREST, self._language.after(history, said))
            gain += self._weight * (likely - _TYPICAL)
            history = (*history, said)[-2:]
        return gain, history


def best_texts(
    network: Network,
    samples: NDArray[np.float32],
    limit: int,
    steering: Steering,
    plain: Callable[[bytes], bytes],
) -> list[Text]:
    """The best texts of a piece, best first, at most ``limit`` tokens each; loops are left out.

    The text that the network alone takes for the likeliest, token by token, is always among them: in noise,
    where short texts win the beam, it often has what the others miss.
    """
    state = network.encode(samples)
    beam, done, alone = [Text()], list[Text](), list[Text]()
    greedy: Text | None = Text()

    def longer(text: Text, row: int, token: int) -> Text:
        step = _Step(token, float(logps[row][token]), row, plain(network.tokens[token]))
        return _grown(text, step, steering)

    for _ in range(limit):
        held = [text.ids for text in beam]
        rows = beam if greedy is None or greedy.ids in held else [*beam, greedy]
        if not rows:
            break
        logps = network.step_many(
            state, [t.ids[-1] if t.ids else _START for t in rows], [t.row for t in rows]
        )
        if greedy is not None:
            row = held.index(greedy.ids) if greedy.ids in held else len(beam)
            greedy = longer(greedy, row, int(logps[row].argmax()))
            alone = [greedy]
            if _ended(greedy) or loop_start(greedy.ids) is not None:
                alone, greedy = alone if _ended(greedy) else [], None
        new = [
            longer(text, row, token)
            for row, text in enumerate(beam)
            for token in np.argpartition(logps[row], -BRANCH)[-BRANCH:].tolist()
        ]
        done = sorted([*done, *filter(_ended, new)], key=_rank, reverse=True)[:BEAM]
        going = [text for text in new if not _ended(text) and loop_start(text.ids) is None]
        beam = sorted(going, key=_rank, reverse=True)[:BEAM]
        if done and beam and _rank(done[0]) > _rank(beam[0]) + 2.0:
            beam = []
    texts = done or beam
    texts = texts + [text for text in alone if text.ids not in {other.ids for other in texts}]
    return sorted(texts, key=_rank, reverse=True)


def _ended(text: Text) -> bool:
    """Whether the network has ended the text."""
    return len(text.logps) > len(text.ids)


def _rank(text: Text) -> float:
    return text.logp + text.gain


@dataclass(frozen=True, slots=True)
class _Step:
    """One token that a text may go on with."""

    token: int
    logp: float
    row: int
    data: bytes


def _grown(text: Text, step: _Step, steering: Steering) -> Text:
    logps = (*text.logps, step.logp)
    if step.token == _END:
        gain, history = steering.with_word(text, text.open_)
        return Text(text.ids, logps, gain, history, b"", step.row)
    ids = (*text.ids, step.token)
    if step.data.startswith(b" ") and text.open_:
        gain, history = steering.with_word(text, text.open_)
        return Text(ids, logps, gain, history, step.data.strip(), step.row)
    return Text(ids, logps, text.gain, text.history, text.open_ + step.data.strip(), step.row)


def share(texts: list[Text]) -> list[float]:
    """Probability of each text among those of the beam."""
    ranks = [_rank(text) for text in texts]
    weights = [math.exp(rank - max(ranks)) for rank in ranks]
    return [weight / sum(weights) for weight in weights]
