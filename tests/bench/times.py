"""Measures how good the second ear's word times are: ``python -m tests.bench.times FOLDER --voices V ...``.

FOLDER holds narrations (``*.jsonl`` with a ``text`` a line). espeak-ng speaks their lines and tells when it
begins each word; the second ear aligns the same words with that sound, quiet and in noise at 10 dB. Printed:
how far the two starts lie apart. Needs libespeak-ng (Debian: espeak-ng), a tool of whoever measures.
"""

from __future__ import annotations

import argparse
import ctypes
from pathlib import Path
from typing import Any

import numpy as np
import soxr
from numpy.typing import NDArray

from narrator.hearing.second_ear import FOLDER, ShopEar
from narrator.hearing.spoken import in_words
from narrator.values import SAMPLE_RATE
from tests.bench.spoken import lines, noisy, own_noises

Floats = NDArray[np.float32]
PAD_S = 0.25
_SYNCHRONOUS, _WORD, _UTF8 = 2, 1, 1


class _Event(ctypes.Structure):
    """``espeak_EVENT`` of speak_lib.h."""

    _fields_ = (
        ("type", ctypes.c_int),
        ("unique_identifier", ctypes.c_uint),
        ("text_position", ctypes.c_int),
        ("length", ctypes.c_int),
        ("audio_position", ctypes.c_int),
        ("sample", ctypes.c_int),
        ("user_data", ctypes.c_void_p),
        ("id", ctypes.c_char * 8),
    )


_CALLBACK = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.POINTER(_Event)
)


class Espeak:
    """The synthesizer as a library, for it tells when words begin."""

    def __init__(self) -> None:
        self._library: Any = ctypes.CDLL("libespeak-ng.so.1")
        self.rate: int = self._library.espeak_Initialize(_SYNCHRONOUS, 0, None, 0)
        self._sound: list[Floats] = []
        self._starts: dict[int, float] = {}
        self._kept = _CALLBACK(self._take)  # must outlive the library's use of it
        self._library.espeak_SetSynthCallback(self._kept)

    def _take(self, samples: Any, count: int, events: Any) -> int:
        if samples and count:
            self._sound.append(np.ctypeslib.as_array(samples, (count,)).astype(np.float32) / 32768)
        at = 0
        while events[at].type:
            if events[at].type == _WORD:
                self._starts.setdefault(events[at].text_position - 1, events[at].audio_position / 1000)
            at += 1
        return 0

    def speak(self, text: str, voice: str) -> tuple[Floats, dict[int, float]]:
        """A text's sound at 16 kHz, and when each word begins (s), by the word's place in the text."""
        self._sound, self._starts = [], {}
        self._library.espeak_SetVoiceByName(voice.encode())
        data = text.encode()
        self._library.espeak_Synth(data, len(data) + 1, 0, 1, 0, _UTF8, None, None)
        sound = soxr.resample(np.concatenate(self._sound), self.rate, SAMPLE_RATE)
        return np.asarray(sound, np.float32), self._starts


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--voices", nargs="+", default=["en+Michael", "en-us+anika"])
    parser.add_argument("--every", type=int, default=8)
    parser.add_argument("--shop", type=Path, default=FOLDER)
    given = parser.parse_args()
    ear, tool, noises = ShopEar(given.shop), Espeak(), own_noises()
    pad = int(PAD_S * SAMPLE_RATE)
    for voice in given.voices:
        far: dict[str, list[float]] = {"quiet": [], "10 dB": []}
        for number, line in enumerate(lines(given.folder, [], given.every)):
            text = in_words(line)
            sound, starts = tool.speak(text, voice)
            words = text.split()
            places = [len(" ".join(words[:i])) + (i > 0) for i in range(len(words))]
            for level, ratio in (("quiet", None), ("10 dB", 10.0)):
                heard = noisy(np.pad(sound, (pad, pad)), ratio, noises, number)
                times = ear.times(ear.scores(heard), words)
                far[level] += [
                    times[i][0] - PAD_S - starts[place] for i, place in enumerate(places) if place in starts
                ]
        for level, offsets in far.items():
            print(_told(voice, level, np.array(offsets)), flush=True)


def _told(voice: str, level: str, offsets: NDArray[np.float64]) -> str:
    far = np.abs(offsets)
    return (
        f"{voice:>14} {level:>6}: {len(far)} words, starts {offsets.mean():+.3f} s off in the mean, "
        f"{np.median(far):.3f} s apart in the median, {np.percentile(far, 90):.3f} s at the 90th percentile, "
        f"{100 * (far <= 0.1).mean():.0f} % within 0.1 s"
    )


if __name__ == "__main__":
    main()
