"""The tape: sound on the disk before anything else gets it, in short sealed segments.

A segment is raw at first (16-bit little-endian mono at 16 kHz, ``000000960000.pcm``: named for its first
sample on the session's clock, so that nothing else need be known to place it). Every block reaches the system
at once and the disk within about a second. A full segment is sealed: its length and SHA-256 stand in
``tape.jsonl`` beside it. Then it is packed as FLAC (``archive``), and the raw file goes when the packed one
has been read back and found the same.

``tape.jsonl`` also holds the anchors, one for each segment: the sample number, the wall time and the steady
clock at that moment. The sample clock is the truth; wall times are for people.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from narrator.errors import NarratorError
from narrator.hearing.device import steady_time
from narrator.hearing.files import Files, OpenFile
from narrator.values import SAMPLE_RATE, AudioChunk

INDEX = "tape.jsonl"
BYTES = 2
"""Bytes a sample on the tape."""


@dataclass(frozen=True, slots=True)
class Sealed:
    """A finished raw segment: its first sample, how many there are, and the SHA-256 of its bytes."""

    first: int
    samples: int
    sha256: str


@dataclass(frozen=True, slots=True)
class TapeOptions:
    """In seconds of sound."""

    segment: float = 60.0
    sync: float = 1.0


def raw_path(folder: Path, first: int) -> Path:
    """The raw file of the segment that begins with sample ``first``."""
    return folder / f"{first:012d}.pcm"


def packed_path(folder: Path, first: int) -> Path:
    """The FLAC file of the segment that begins with sample ``first``."""
    return folder / f"{first:012d}.flac"


class Tape:
    """Takes the sound of one session; safe to call from several threads.

    ``sealed`` is called with each finished segment. When the disk refuses, what is there is sealed, E605 is
    raised, and the next block begins a new segment: whoever records decides whether to go on.
    """

    def __init__(
        self,
        folder: Path,
        *,
        wall: Callable[[], str],
        sealed: Callable[[Sealed], None] = lambda segment: None,
        options: TapeOptions | None = None,
        files: Files | None = None,
        steady: Callable[[], float] = steady_time,
    ) -> None:
        self.folder = folder
        self._files = files or Files()
        self._options = options or TapeOptions()
        self._wall, self._steady, self._sealed = wall, steady, sealed
        self._lock = threading.RLock()
        self._raw: OpenFile | None = None
        self._first = self._samples = self._unsynced = 0
        self._hash = hashlib.sha256()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self._files.append(folder / INDEX).close()

    @property
    def end(self) -> int:
        """The sample after the last one written."""
        return self._first + self._samples

    def write(self, chunk: AudioChunk) -> None:
        """Keep a block; where it does not follow the last one, a new segment begins.

        Raises:
            NarratorError: E605 when the disk takes no more.
        """
        data = np.rint(chunk.samples * 32768).clip(-32768, 32767).astype("<i2").tobytes()
        with self._lock, self._refused():
            if self._raw is not None and chunk.first != self.end:
                self._seal()
            if self._raw is None:
                self._begin(chunk.first)
            assert self._raw is not None
            self._raw.write(data)
            self._hash.update(data)
            self._samples += len(chunk.samples)
            self._unsynced += len(chunk.samples)
            if self._samples >= self._options.segment * SAMPLE_RATE:
                self._seal()
            elif self._unsynced >= self._options.sync * SAMPLE_RATE:
                self._sync()

    def sync(self) -> None:
        """Return when the disk has all that was written."""
        with self._lock, self._refused():
            self._sync()

    def seal(self) -> None:
        """End the segment that is open, if any."""
        with self._lock, self._refused():
            self._seal()

    def note(self, **what: Any) -> None:
        """Add a line to the index; it is on the disk with the next segment's end."""
        with self._lock, self._refused():
            self._index(what, sync=False)

    # ------------------------------------------------------------ inside the lock

    def _begin(self, first: int) -> None:
        raw = raw_path(self.folder, first)
        self._raw = self._files.append(raw)
        self._first, self._samples, self._unsynced = first, 0, 0
        self._hash = hashlib.sha256()
        self._index({"open": first, "wall": self._wall(), "steady": round(self._steady(), 3)}, sync=False)
        self._files.sync_folder(self.folder)

    def _sync(self) -> None:
        if self._raw is not None and self._unsynced:
            self._raw.sync()
            self._unsynced = 0

    def _seal(self) -> None:
        if self._raw is None:
            return
        raw, self._raw = self._raw, None
        segment = Sealed(self._first, self._samples, self._hash.hexdigest())
        try:
            raw.cut(self._samples * BYTES)
            raw.sync()
        finally:
            raw.close()
        if not segment.samples:
            self._files.remove(raw_path(self.folder, segment.first))
            return
        self._index({"seal": segment.first, "samples": segment.samples, "sha256": segment.sha256}, sync=True)
        self._sealed(segment)

    def _index(self, row: dict[str, Any], sync: bool) -> None:
        append_index(self.folder, row, self._files, sync)

    def _refused(self) -> _Refused:
        return _Refused(self)

    def close(self) -> None:
        """Let the open file go without sealing it, as a crash would."""
        with self._lock:
            if self._raw is not None:
                self._raw.close()
                self._raw = None

    def give_up(self) -> None:
        """After a refusal: seal what is there as well as the disk allows; recovery does the rest."""
        try:
            self._seal()
        except OSError:
            self._raw = None


class _Refused:
    """Turns a refusal of the disk into E605, and ends the open segment."""

    def __init__(self, tape: Tape) -> None:
        self._tape = tape

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, OSError):
            self._tape.give_up()
            why = error.strerror or error
            raise NarratorError("E605", path=self._tape.folder, why=why) from error


def append_index(folder: Path, row: dict[str, Any], files: Files, sync: bool) -> None:
    """Add a line to a tape's index. It begins with a line feed too, so that a torn line spoils no other."""
    index = files.append(folder / INDEX)
    try:
        index.write(b"\n" + json.dumps(row).encode() + b"\n")
        if sync:
            index.sync()
    finally:
        index.close()


def read_index(folder: Path) -> list[dict[str, Any]]:
    """The whole lines of a tape's index; torn ones are left out."""
    path = folder / INDEX
    rows = []
    for line in path.read_bytes().splitlines() if path.is_file() else ():
        try:
            row = json.loads(line)
        except ValueError:
            continue
        if isinstance(row, dict):
            rows.append(row)
    return rows
