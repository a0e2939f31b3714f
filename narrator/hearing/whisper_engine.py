"""Any Whisper model folder in CTranslate2's form as a recognizer, by faster-whisper (``narrator[whisper]``).

Slower than the others; for a second pass over kept sound. Only this module imports faster-whisper. Nothing is
ever fetched: a folder that lacks a file is refused, since the package would look for it elsewhere. The shop's
own words are given as hints.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Literal

import numpy as np

from narrator.errors import NarratorError
from narrator.hearing.models import WHISPER_MARKS
from narrator.hearing.own_words import OwnWords
from narrator.hearing.segmenter import Segment
from narrator.hearing.slips import plausible
from narrator.settings import Settings
from narrator.values import Word

_LANGUAGE = "en"


class WhisperDecoder:
    """A Whisper model. ``threads`` 0 leaves their number to the library."""

    timing: Literal["aligned", "estimated"] = "aligned"

    def __init__(self, folder: Path, own: OwnWords | None = None, threads: int = 1) -> None:
        self.name = f"whisper/{folder.resolve().name}"
        self._own = own
        package = _import()
        try:
            self._model = package.WhisperModel(
                str(folder), device="cpu", compute_type="int8", cpu_threads=threads, local_files_only=True
            )
        except Exception as error:  # the library raises many classes, bare ones among them
            raise NarratorError("E205", path=folder, why=str(error).splitlines()[0]) from error

    def decode(self, segment: Segment) -> list[Word]:
        """Words of one piece; none where the text cannot have been said in that time."""
        parts, _ = self._model.transcribe(
            np.ascontiguousarray(segment.samples, np.float32),
            language=_LANGUAGE,
            beam_size=5,
            temperature=0.0,
            word_timestamps=True,
            condition_on_previous_text=False,
            hotwords=self._hints(),
        )
        words: list[Word] = []
        for part in parts:
            if plausible(part.text, float(part.avg_logprob), segment):
                words += [word for row in part.words or () if (word := _word(row, segment))]
        return words

    def _hints(self) -> str | None:
        if self._own is None:
            return None
        self._own.refresh()
        return ", ".join(" ".join(name) for name in self._own.names) or None


def _word(row: Any, segment: Segment) -> Word | None:
    """The library's word on our clock, inside the piece."""
    text = row.word.strip()
    start = min(segment.end, segment.start + max(0.0, float(row.start)))
    end = min(segment.end, max(start, segment.start + float(row.end)))
    conf = min(1.0, max(0.0, float(row.probability)))
    return Word(text, round(start, 3), round(end, 3), round(conf, 3)) if text else None


def _import() -> Any:
    os.environ["HF_HUB_OFFLINE"] = "1"  # belt and braces: nothing is asked of a hub
    os.environ["HF_HUB_DISABLE_TELEMETRY"] = "1"
    try:
        import faster_whisper  # noqa: PLC0415  (an engine's package is loaded only when it is chosen)
    except (ImportError, OSError) as error:
        raise NarratorError("E203", engine="whisper", why=error) from error
    return faster_whisper


def open_decoder(settings: Settings, model: Path | None = None) -> WhisperDecoder:
    """The decoder of the folder ``model``, else of the setting ``whisper_model``.

    Raises:
        NarratorError: E203 without faster-whisper, E204 without a model, E205 when it cannot be loaded.
    """
    folder = model or settings.whisper_model
    if folder is None:
        raise NarratorError("E204", engine="whisper", why="the setting whisper_model names no folder")
    missing = [name for name in WHISPER_MARKS if not (folder / name).is_file()]
    if missing:
        raise NarratorError("E205", path=folder, why=f"it lacks {', '.join(missing)}")
    return WhisperDecoder(folder, OwnWords(settings.own_words))
