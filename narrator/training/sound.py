"""The sound of a stretch of a job, out of whichever files hold it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.store.erase import sound_folder
from narrator.store.rows import Sound

Samples = NDArray[np.float32]


def stretch(
    home: Path, session: str, sounds: tuple[Sound, ...], start: float, end: float
) -> tuple[Samples, int] | None:
    """Mono samples and their rate from second ``start`` to ``end``; silence where no file has sound.

    None where none of the files reaches into the stretch, or all are gone. The rate is that of the first.

    Raises:
        NarratorError: E501 when a file cannot be read.
    """
    import soundfile  # noqa: PLC0415 - only where sound is wanted

    found: Samples | None = None
    known = 0
    for sound in sorted(sounds, key=lambda one: one.start):
        path = sound_folder(home, session) / sound.file
        if sound.start >= end or not path.is_file():
            continue
        try:
            info = soundfile.info(path)
            rate, whole = int(info.samplerate), int(info.frames)
            first, last = (round((at - sound.start) * rate) for at in (start, end))
            if last <= 0 or first >= whole or (known and rate != known):
                continue
            read, _ = soundfile.read(
                path, start=max(0, first), stop=min(last, whole), dtype="float32", always_2d=True
            )
        except (OSError, RuntimeError) as error:
            raise NarratorError("E501", path=path, why=error) from error
        if found is None:
            found, known = np.zeros(last - first, np.float32), rate
        at = max(0, -first)
        part = read.mean(axis=1)[: len(found) - at]
        found[at : at + len(part)] = part
    return None if found is None else (found, known)
