"""Any Vosk model folder as a recognizer: word times and confidence, and a grammar where one is wanted.

Only this module imports vosk. A recognizer takes one piece after another, for the part of its graph that it
has worked out is kept (a third of the time). Its clock goes on from piece to piece, so it is begun afresh
every ten minutes of sound, lest rounding add up, and with another grammar: never inside an utterance, which
would abort the process.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Literal

import numpy as np

from narrator.errors import NarratorError
from narrator.hearing.models import VOSK_MARK, vosk_folders
from narrator.hearing.segmenter import Segment
from narrator.settings import Settings
from narrator.values import SAMPLE_RATE, Word

UNKNOWN = "[unk]"
"""In a grammar: anything that is none of its phrases."""

_RENEW_S = 600.0


class VoskDecoder:
    """A Vosk model. ``grammar`` limits what can be heard to phrases (lower case, blanks between words)."""

    timing: Literal["aligned", "estimated"] = "aligned"

    def __init__(self, folder: Path, grammar: Sequence[str] | None = None) -> None:
        self.name = f"vosk/{folder.resolve().name}"
        self._folder = folder
        self._vosk = _import_vosk()
        self._grammar: str | None = None
        self._kept: Any = None  # vosk has no types
        self._taken = 0
        with _caught_log(folder):
            self._model = self._vosk.Model(str(folder))
            self._recognizer()
        if grammar is not None:
            self.set_grammar(grammar)

    def missing_words(self, phrases: Sequence[str]) -> list[str]:
        """Words of the phrases that are not in the model, each once, in order."""
        words = dict.fromkeys(word for phrase in phrases for word in phrase.split() if word != UNKNOWN)
        return [word for word in words if self._model.vosk_model_find_word(word) < 0]

    def set_grammar(self, phrases: Sequence[str] | None, *, skip_unknown: bool = False) -> list[str]:
        """Hear only these phrases from the next piece on, or anything when None.

        With ``skip_unknown`` phrases with words that the model lacks are left out and returned.

        Raises:
            NarratorError: E206 naming the words that the model lacks, E207 when its graph is fixed.
        """
        self._kept = None
        if phrases is None:
            self._grammar = None
            return []
        if not (self._folder / "graph" / "Gr.fst").is_file():
            raise NarratorError("E207", path=self._folder)
        missing = set(self.missing_words(phrases))
        left_out = [phrase for phrase in phrases if missing & set(phrase.split())]
        kept = [phrase for phrase in phrases if phrase not in left_out]
        if left_out and (not skip_unknown or not kept):
            raise NarratorError("E206", words=", ".join(sorted(missing)))
        if self._model.vosk_model_find_word(UNKNOWN) < 0:
            kept = [phrase for phrase in kept if phrase != UNKNOWN]
        self._grammar = json.dumps(kept, ensure_ascii=False)
        return left_out

    def decode(self, segment: Segment) -> list[Word]:
        """Words of one piece; under a grammar what is none of its phrases is left out."""
        if self._kept is None or self._taken > _RENEW_S * SAMPLE_RATE:
            self._kept, self._taken = self._recognizer(), 0
            self._kept.SetWords(True)
        pcm = (np.clip(segment.samples, -1.0, 1.0) * 32767).astype("<i2")
        self._kept.AcceptWaveform(pcm.tobytes())
        result: dict[str, Any] = json.loads(self._kept.FinalResult())
        before = self._taken / SAMPLE_RATE
        self._taken += len(pcm)
        return [_word(row, segment, before) for row in result.get("result", []) if row["word"] != UNKNOWN]

    def _recognizer(self) -> Any:  # vosk has no types
        if self._grammar is None:
            return self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE)
        return self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, self._grammar)


def _word(row: dict[str, Any], segment: Segment, before: float) -> Word:
    """Vosk's word on our clock, ``before`` being what the recognizer had heard; kept inside the piece (its
    last frame may overshoot)."""
    start = min(segment.start + max(0.0, float(row["start"]) - before), segment.end)
    end = min(max(start, segment.start + float(row["end"]) - before), segment.end)
    return Word(str(row["word"]), start, end, min(1.0, float(row["conf"])))


def _import_vosk() -> Any:
    try:
        import vosk  # noqa: PLC0415  (an engine's package is loaded only when it is chosen)
    except (ImportError, OSError) as error:
        raise NarratorError("E203", engine="vosk", why=error) from error
    vosk.SetLogLevel(-1)
    return vosk


@contextlib.contextmanager
def _caught_log(folder: Path) -> Iterator[None]:
    """Keep the library's log off the terminal while a model loads; its last error tells why it failed."""
    sys.stderr.flush()
    with tempfile.TemporaryFile() as log:
        kept = os.dup(2)
        os.dup2(log.fileno(), 2)
        try:
            yield
        except (Exception, SystemExit) as error:  # the wheel raises bare exceptions and may exit
            log.seek(0)
            why = _last_error(log.read().decode("utf-8", "replace")) or str(error)
            raise NarratorError("E205", path=folder, why=why) from error
        finally:
            os.dup2(kept, 2)
            os.close(kept)


def _last_error(log: str) -> str:
    lines = re.findall(r"^ERROR \([^)]*\(?\)?[^)]*\) (.+)$", log, re.MULTILINE)
    return "".join(c for c in lines[-1].strip() if c.isprintable()) if lines else ""


def open_decoder(settings: Settings, model: Path | None = None) -> VoskDecoder:
    """The decoder of the folder ``model``, else of the settings' folder, else of an installed model.

    Raises:
        NarratorError: E203 without vosk, E204 without a model, E205 when it cannot be loaded.
    """
    _import_vosk()
    folder = model or next(vosk_folders(settings), None)
    if folder is None:
        raise NarratorError("E204", engine="vosk", why="none is installed")
    if not (folder / VOSK_MARK).is_file():
        raise NarratorError("E205", path=folder, why=f"it holds no {VOSK_MARK.as_posix()}")
    return VoskDecoder(folder)
