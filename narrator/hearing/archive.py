"""Packing sealed segments as FLAC, and putting a tape in order after a crash."""

from __future__ import annotations

import hashlib
import io
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.hearing.files import Files
from narrator.hearing.tape import BYTES, Sealed, append_index, packed_path, raw_path, read_index
from narrator.values import SAMPLE_RATE

_PART = ".part"


@dataclass(frozen=True, slots=True)
class Packed:
    """A packed segment: its file, first sample, number of samples, and the SHA-256 of the file."""

    file: Path
    first: int
    samples: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Recovered:
    """What a tape held after a crash. ``rescued`` are the seconds that had not been sealed."""

    segments: list[Packed]
    rescued: float
    damaged: list[str]

    @property
    def end(self) -> int:
        """The sample after the last one kept."""
        return max((one.first + one.samples for one in self.segments), default=0)


def pack(folder: Path, segment: Sealed, files: Files | None = None) -> Packed:
    """Pack one sealed segment; the raw file goes only when the packed one reads back the same.

    Raises:
        NarratorError: E607 when the raw file is not what was sealed, or does not read back the same.
        OSError: when the disk refuses; the raw file stays.
    """
    files = files or Files()
    raw, packed = raw_path(folder, segment.first), packed_path(folder, segment.first)
    data = raw.read_bytes()
    if hashlib.sha256(data).hexdigest() != segment.sha256:
        raise NarratorError("E607", path=raw, why="it is not what was sealed")
    part = packed.with_name(packed.name + _PART)
    coded = _flac(data)
    files.put(part, coded)
    if decode(part.read_bytes()) != data:
        files.remove(part)
        raise NarratorError("E607", path=part, why="it does not read back as it was")
    files.rename(part, packed)
    files.sync_folder(folder)
    files.remove(raw)
    return Packed(packed, segment.first, segment.samples, hashlib.sha256(coded).hexdigest())


def _flac(data: bytes) -> bytes:
    out = io.BytesIO()
    soundfile.write(out, np.frombuffer(data, "<i2"), SAMPLE_RATE, format="FLAC", subtype="PCM_16")
    return out.getvalue()


def decode(flac: bytes) -> bytes:
    """The raw bytes of a packed segment, or none when it is damaged."""
    try:
        samples, rate = soundfile.read(io.BytesIO(flac), dtype="int16")
    except soundfile.LibsndfileError:
        return b""
    return bytes(samples.astype("<i2").tobytes()) if rate == SAMPLE_RATE else b""


def recover(folder: Path, files: Files | None = None) -> Recovered:
    """Put a tape in order: what was open is sealed, what was sealed is packed, half files go.

    Doing it again changes nothing. A segment that is not what was sealed stays as it is, raw, and is named.
    """
    files = files or Files()
    for part in folder.glob(f"*{_PART}"):
        files.remove(part)
    sealed = {row["seal"]: Sealed(row["seal"], row["samples"], row["sha256"])
              for row in read_index(folder) if "seal" in row}  # fmt: skip
    rescued, damaged = 0.0, []
    for raw in sorted(folder.glob("*.pcm")):
        first = int(raw.stem)
        if _is_packed(folder, first, raw):
            files.remove(raw)
            continue
        segment = sealed.get(first)
        if segment is None:
            segment = _seal(folder, first, raw, files)
            rescued += segment.samples / SAMPLE_RATE if segment else 0.0
        if segment is not None:
            try:
                pack(folder, segment, files)
            except NarratorError as error:
                damaged.append(error.message)
    return Recovered(list(_packed(folder)), rescued, damaged)


def _is_packed(folder: Path, first: int, raw: Path) -> bool:
    packed = packed_path(folder, first)
    return packed.is_file() and decode(packed.read_bytes()) == raw.read_bytes()


def _seal(folder: Path, first: int, raw: Path, files: Files) -> Sealed | None:
    """Seal what a crash left open; half a sample at its end goes."""
    size = raw.stat().st_size // BYTES * BYTES
    if not size:
        files.remove(raw)
        return None
    file = files.append(raw)
    try:
        file.cut(size)
        file.sync()
    finally:
        file.close()
    segment = Sealed(first, size // BYTES, hashlib.sha256(raw.read_bytes()).hexdigest())
    row = {"seal": first, "samples": segment.samples, "sha256": segment.sha256, "recovered": True}
    append_index(folder, row, files, sync=True)
    return segment


def _packed(folder: Path) -> Iterator[Packed]:
    for path in sorted(folder.glob("*.flac")):
        data = path.read_bytes()
        samples = len(decode(data)) // BYTES
        yield Packed(path, int(path.stem), samples, hashlib.sha256(data).hexdigest())


# ---------------------------------------------------------------- reading


def segments(folder: Path) -> list[tuple[int, int, Path]]:
    """First sample, number of samples and file of every segment of a tape, in order, packed or raw."""
    return _between(folder, 0, 2**62)


def tape_end(folder: Path) -> int:
    """The sample after the last one on a tape, 0 for an empty one."""
    return max((first + count for first, count, _ in segments(folder)), default=0)


def read_samples(folder: Path, first: int, last: int) -> NDArray[np.float32]:
    """The tape's sound from sample ``first`` up to ``last``; silence where there is none."""
    for _ in range(3):
        try:
            return _read(folder, first, last)
        except FileNotFoundError:  # it was packed between looking and reading
            continue
    return _read(folder, first, last)


def _read(folder: Path, first: int, last: int) -> NDArray[np.float32]:
    sound = np.zeros(max(0, last - first), np.float32)
    for begin, count, path in _between(folder, first, last):
        start, end = max(first, begin), min(last, begin + count)
        if start < end:
            sound[start - first : end - first] = _samples(path, start - begin, end - begin)
    return sound


def _between(folder: Path, first: int, last: int) -> list[tuple[int, int, Path]]:
    """The segments that may hold a stretch, told by their names; a day has hundreds, and few are opened."""
    found: dict[int, Path] = {}
    for suffix in ("pcm", "flac"):
        found |= {int(path.stem): path for path in folder.glob(f"*.{suffix}")}
    begins = sorted(begin for begin in found if begin < last)
    near = begins[max(0, bisect_right(begins, first) - 1) :]
    return [(begin, _count(found[begin]), found[begin]) for begin in near]


def _count(path: Path) -> int:
    return path.stat().st_size // BYTES if path.suffix == ".pcm" else int(soundfile.info(path).frames)


def _samples(path: Path, start: int, end: int) -> NDArray[np.float32]:
    if path.suffix == ".pcm":
        with path.open("rb") as file:
            file.seek(start * BYTES)
            data = np.frombuffer(file.read((end - start) * BYTES), "<i2")
    else:
        data, _ = soundfile.read(path, start=start, stop=end, dtype="int16")
    out = np.zeros(end - start, np.float32)
    out[: len(data)] = data / np.float32(32768)
    return out
