"""What a recognizer is, whatever the engine, and the choice of one by name.

An engine brings a ``Decoder`` (a piece of sound in, words out). Cutting the sound into utterances, the sample
clock, numbering and partial results are the same for all and live in ``SegmentRecognizer``.
"""

from __future__ import annotations

import importlib
import time
from collections.abc import Callable
from pathlib import Path
from typing import Literal, Protocol

from narrator.errors import NarratorError
from narrator.hearing.models import engine_of
from narrator.hearing.remarks import remarks
from narrator.hearing.segmenter import Segment, Segmenter
from narrator.hearing.voice import FRAME
from narrator.settings import Settings
from narrator.values import SAMPLE_RATE, AudioChunk, Partial, Utterance, Word

Heard = Partial | Utterance
Timing = Literal["aligned", "estimated"]

ENGINES: dict[str, str] = {
    "moonshine": "narrator.hearing.moonshine_engine",
    "vosk": "narrator.hearing.vosk_engine",
    "whisper": "narrator.hearing.whisper_engine",
}
"""Engine name to the module with its ``open_decoder(settings, model)``; ``auto`` tries them in order."""

PARTIAL_EVERY_S = 1.0
_PARTIAL_SHARE = 10
"""Partial results may take a tenth of the time at most."""


class Recognizer(Protocol):
    """Takes 16 kHz mono sound block by block and gives partial and final results."""

    name: str
    unheard: float
    """Seconds taken for speech in which no words were found."""

    def accept(self, chunk: AudioChunk) -> list[Heard]:
        """Take the next block; give what became known by it, in order of time."""
        ...

    def finish(self) -> list[Heard]:
        """End the utterance that is open. More sound may follow, after a gap."""
        ...


class Decoder(Protocol):
    """An engine: one piece of sound to words, whose texts joined by blanks are the utterance's text."""

    name: str
    timing: Literal["aligned", "estimated"]

    def decode(self, segment: Segment) -> list[Word]:
        """Words of one piece, in order, with times in seconds from the start of the session."""
        ...


class SegmentRecognizer:
    """A ``Recognizer`` made of a segmenter and a decoder. Ids count up from ``first_id``; utterances whose
    middle lies before ``after`` seconds are known already and left out. A piece whose text is to stay
    ``whole`` is cut at long pauses alone.
    """

    def __init__(
        self,
        decoder: Decoder,
        segmenter: Segmenter | None = None,
        *,
        partials: bool = False,
        first_id: int = 1,
        after: float = 0.0,
        whole: Callable[[str], bool] = lambda _: False,
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        self.name = decoder.name
        self.unheard = 0.0
        self._decoder = decoder
        self._segmenter = segmenter or Segmenter()
        self._partials = partials
        self._next_id, self._after, self._whole = first_id, after, whole
        self._clock = clock
        self._partial_due = PARTIAL_EVERY_S

    def accept(self, chunk: AudioChunk) -> list[Heard]:
        """See ``Recognizer``."""
        heard: list[Heard] = list(self._finals(self._segmenter.accept(chunk)))
        if self._partials and (partial := self._partial()):
            heard.append(partial)
        return heard

    def finish(self) -> list[Heard]:
        """See ``Recognizer``."""
        return list(self._finals(self._segmenter.finish()))

    def _finals(self, segments: list[Segment]) -> list[Utterance]:
        if segments:
            self._partial_due = PARTIAL_EVERY_S
        return [utterance for segment in segments for utterance in self._final(segment)]

    def _final(self, segment: Segment) -> list[Utterance]:
        """The utterances of a piece: one for each of its remarks."""
        words = self._decode(segment)
        if not words:
            self.unheard += float(segment.voiced.sum()) * FRAME / SAMPLE_RATE
            return []
        engine, timing = self._made_by()
        whole = self._whole(" ".join(word.word for word in words))
        parts = remarks(words, measured=timing == "aligned", whole=whole)
        start, end = segment.spoken()
        starts = [min(start, words[0].start), *(part[0].start for part in parts[1:])]
        ends = [*(part[-1].end for part in parts[:-1]), max(end, words[-1].end)]
        found = []
        for since, until, part in zip(starts, ends, parts, strict=True):
            if (since + until) / 2 >= self._after:
                text = " ".join(word.word for word in part)
                made = Utterance(self._next_id, since, until, text, tuple(part), engine=engine, timing=timing)
                found.append(made)
                self._next_id += 1
        return found

    def _decode(self, segment: Segment) -> list[Word]:
        return self._decoder.decode(segment)

    def _made_by(self) -> tuple[str, Timing]:
        """Engine of the words just decoded, and where their times are from."""
        return self.name, self._decoder.timing

    def _partial(self) -> Partial | None:
        """Decode the open piece again each second of speech, more seldom where the engine is slow."""
        if self._segmenter.open_seconds < self._partial_due:
            return None
        segment = self._segmenter.open()
        if segment is None:
            return None
        began = self._clock()
        words = self._decoder.decode(segment)
        spent = self._clock() - began
        self._partial_due = self._segmenter.open_seconds + max(PARTIAL_EVERY_S, _PARTIAL_SHARE * spent)
        if not words:
            return None
        return Partial(" ".join(word.word for word in words), segment.start, segment.end)


def open_decoder(
    settings: Settings, engine: str = "auto", model: Path | None = None, *, second_ear: bool | None = None
) -> Decoder:
    """The decoder called ``engine``, or for ``auto`` the first that is installed and has a model.

    The bundled English dictation gets the second ear beside it, unless that is turned off (``second_ear``,
    else the settings) or its model is missing.

    Raises:
        NarratorError: E201 when ``auto`` finds none; E202 for an unknown name; E203 to E205 from the engine.
    """
    wanted = settings.second_ear if second_ear is None else second_ear
    return _both(_open(settings, engine, model), settings) if wanted else _open(settings, engine, model)


def _both(first: Decoder, settings: Settings) -> Decoder:
    """The decoder with the second ear beside it, where it is one that has none."""
    if not first.name.startswith("moonshine"):
        return first
    from narrator.hearing.ahead import with_second_ear  # noqa: PLC0415  (loads a second engine)

    return with_second_ear(first, settings.own_words) or first


def _open(settings: Settings, engine: str, model: Path | None) -> Decoder:
    if engine == "auto":
        return _auto(settings, model)
    if engine not in ENGINES:
        raise NarratorError("E202", engine=engine, known=", ".join(["auto", *ENGINES]))
    decoder: Decoder = importlib.import_module(ENGINES[engine]).open_decoder(settings, model)
    return decoder


def _auto(settings: Settings, model: Path | None) -> Decoder:
    if model is not None:
        return _open(settings, engine_of(model), model)
    reasons: list[str] = []
    for name in ENGINES:
        try:
            return _open(settings, name, None)
        except NarratorError as error:
            if error.code not in ("E203", "E204"):
                raise
            reasons.append(error.message)
    raise NarratorError("E201", why="; ".join(reasons))


def open_recognizer(
    settings: Settings,
    engine: str | None = None,
    model: Path | None = None,
    *,
    partials: bool = False,
    second_ear: bool | None = None,
) -> Recognizer:
    """A recognizer ready to listen; ``engine`` and ``second_ear`` are those of the settings unless given."""
    decoder = open_decoder(settings, engine or settings.engine, model, second_ear=second_ear)
    return SegmentRecognizer(decoder, partials=partials)
