"""Pieces of a job's sound, cut so that nothing that comes later is in them; sent as they are read."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import soundfile
from starlette.responses import Response, StreamingResponse

from narrator.review.pages import Problem

_BLOCK = 65_536
_PCM, _BITS = 1, 16


@dataclass(frozen=True, slots=True)
class Piece:
    """Frames ``first`` to ``last`` of one file."""

    path: Path
    first: int
    last: int
    rate: int


def cut(files: list[tuple[float, Path]], start: float, end: float) -> list[Piece]:
    """What lies between two seconds of a job, whose files begin at the given seconds, in order.

    Files of another rate than the first one's are left out, and so is what no file holds.

    Raises:
        Problem: when a file cannot be read.
    """
    pieces: list[Piece] = []
    for n, (begins, path) in enumerate(files):
        until = min(end, files[n + 1][0]) if n + 1 < len(files) else end
        try:
            known = soundfile.info(path)
        except (OSError, RuntimeError) as error:
            raise Problem(404, "The sound is not in its place.", "It may have been moved by hand.") from error
        first = max(0, int((start - begins) * known.samplerate))
        last = min(known.frames, int((until - begins) * known.samplerate))
        if first < last and (not pieces or known.samplerate == pieces[0].rate):
            pieces.append(Piece(path, first, last, known.samplerate))
    return pieces


def wave(pieces: list[Piece]) -> Response:
    """The pieces one after the other as one WAV file, one channel of 16 bits."""
    if not pieces:
        raise Problem(404, "There is no sound of that.")
    size = sum(piece.last - piece.first for piece in pieces) * _BITS // 8
    rate = pieces[0].rate
    head = struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + size, b"WAVE", b"fmt ", 16, _PCM, 1, rate,
                       rate * _BITS // 8, _BITS // 8, _BITS, b"data", size)  # fmt: skip
    return StreamingResponse(
        _stream(head, pieces), media_type="audio/wav",
        headers={"content-length": str(len(head) + size), "cache-control": "private, max-age=600"},
    )  # fmt: skip


def _stream(head: bytes, pieces: list[Piece]) -> Iterator[bytes]:
    yield head
    for piece in pieces:
        with soundfile.SoundFile(piece.path) as file:
            file.seek(piece.first)
            left = piece.last - piece.first
            while left:
                found = file.read(min(_BLOCK, left), dtype="int16", always_2d=True)
                if not len(found):  # a file that is shorter than it says: silence, so that lengths hold
                    yield bytes(left * _BITS // 8)
                    break
                left -= len(found)
                yield found[:, 0].tobytes()
