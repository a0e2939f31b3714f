"""Sound of any kind as one iterator of 16 kHz mono chunks, in constant memory.

A file, a microphone and a replay all look alike to the rest of the room: something that yields
``AudioChunk`` on one running sample clock, and ``Gap`` where sound is missing.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.values import SAMPLE_RATE, AudioChunk, Gap

_BLOCK_S = 0.1
_LOWEST_RATE, _HIGHEST_RATE = 4_000, 768_000
_TOLERANCE_S = 0.15
_UNKNOWN_LENGTHS = {0, 0xFFFFFFFF, 0x7FFFFFFF, 0xFFFFFFFE, 0x7FFFF000, 0xFFFFF000}
"""Data lengths that recorders write when they do not know the length yet."""


class Source(Protocol):
    """Sound on one sample clock: chunks follow each other without overlap; a gap says what is missing."""

    @property
    def seconds(self) -> float | None:
        """How long it is, where that is known beforehand."""
        ...

    def __iter__(self) -> Iterator[AudioChunk | Gap]:
        """Give the sound from its start; raises a coded error after the last good chunk."""
        ...


class FileSource:
    """A sound file: WAV, FLAC, Ogg (Vorbis, Opus), MP3, any rate and number of channels (averaged).

    Raises:
        NarratorError: E101 to E103 and E106 on construction; E104 (ends early) or E105 (damaged) when
            iterating, after all that could be read has been given.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        with self._open() as sound:
            self._frames: int = sound.frames
            self._rate: int = sound.samplerate
            self._expected = _promised_frames(path, sound)
        if not _LOWEST_RATE <= self._rate <= _HIGHEST_RATE:
            raise NarratorError("E106", path=path, rate=self._rate)

    @property
    def seconds(self) -> float | None:
        """Length in seconds, as far as the file is there."""
        return self._frames / self._rate

    def __iter__(self) -> Iterator[AudioChunk | Gap]:
        """Give chunks of about 0.1 s."""
        resampler = new_resampler(self._rate)
        first, read = 0, 0
        failure: Exception | None = None
        with self._open() as sound:
            while True:
                try:
                    block = sound.read(int(self._rate * _BLOCK_S), dtype="float32", always_2d=True)
                except soundfile.LibsndfileError as error:
                    failure, block = error, np.zeros((0, 1), np.float32)
                read += len(block)
                done = len(block) == 0
                samples = resampler.resample_chunk(to_mono(block), last=done)
                if len(samples):
                    yield AudioChunk(samples, first)
                    first += len(samples)
                if done:
                    break
        self._complain(read, failure)

    def _complain(self, read: int, failure: Exception | None) -> None:
        got = read / self._rate
        if failure is not None:
            raise NarratorError("E105", path=self.path, got=got, why=_reason(failure)) from failure
        expected = self._frames if self._expected is None else self._expected
        if expected / self._rate - got > _TOLERANCE_S:
            raise NarratorError("E104", path=self.path, got=got, expected=expected / self._rate)
        if self._expected is None and _ogg_is_cut(self.path):
            raise NarratorError("E105", path=self.path, got=got, why="its last page is missing")

    def _open(self) -> soundfile.SoundFile:
        try:
            if self.path.stat().st_size == 0 and self.path.is_file():
                raise NarratorError("E102", path=self.path)
            if self.path.is_dir():
                raise NarratorError("E103", path=self.path, why="it is a folder")
            with self.path.open("rb"):
                pass
            return soundfile.SoundFile(os.fspath(self.path))
        except OSError as error:
            raise NarratorError("E101", path=self.path) from error
        except (soundfile.LibsndfileError, TypeError, ValueError) as error:
            raise NarratorError("E103", path=self.path, why=_reason(error)) from error


def new_resampler(rate: int) -> soxr.ResampleStream:
    """A stream from ``rate`` to ours, mono float32."""
    return soxr.ResampleStream(rate, SAMPLE_RATE, 1, dtype="float32")


def to_mono(block: NDArray[np.float32]) -> NDArray[np.float32]:
    """Average the channels of (n, channels); what is not a number becomes silence."""
    mean = np.nan_to_num(block.mean(axis=1, dtype=np.float32), nan=0.0, posinf=1.0, neginf=-1.0)
    mono: NDArray[np.float32] = np.clip(mean, -1.0, 1.0)
    return mono


def _promised_frames(path: Path, sound: soundfile.SoundFile) -> int | None:
    """Frames that a WAV header promises where the file holds fewer; libsndfile only notes it in its log."""
    found = re.search(r"^data : (\d+) \(should be (\d+)\)", sound.extra_info, re.MULTILINE)
    if sound.format not in ("WAV", "WAVEX", "RF64") or not found:
        return None
    promised, there = int(found[1]), int(found[2])
    if promised in _UNKNOWN_LENGTHS or promised <= there:
        return None
    width = there / sound.frames if sound.frames else sound.channels * _bytes_a_sample(sound)
    return int(promised / width)


def _bytes_a_sample(sound: soundfile.SoundFile) -> int:
    return {"PCM_U8": 1, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}.get(sound.subtype, 2)


def _ogg_is_cut(path: Path) -> bool:
    """Whether an Ogg file lacks the end-of-stream mark on its last page (RFC 3533, section 6)."""
    with path.open("rb") as file:
        if file.read(4) != b"OggS":
            return False
        file.seek(max(0, path.stat().st_size - 2 * 65_307))  # the longest page has 65,307 bytes
        tail = file.read()
    last = tail.rfind(b"OggS")
    return last < 0 or last + 5 >= len(tail) or not tail[last + 5] & 0x04


def _reason(error: Exception) -> str:
    text = str(getattr(error, "error_string", "") or error)
    if "not a regular file" in text:  # what libsndfile says of bytes that only look like MP3
        return "no sound of a known kind is in it"
    return text.removeprefix("Error : ").rstrip(".")
