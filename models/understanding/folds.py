"""Which jobs a network has not learned, of those made without one fold each; needs nothing of the program."""

from __future__ import annotations

import zlib
from pathlib import Path

FOLDS = 3


def fold_of(name: str) -> int:
    """The fold of a talk: that of the file it stands in, so that nobody's talk is on both sides."""
    return zlib.crc32(name.split(".", maxsplit=1)[0].encode()) % FOLDS


def network_file(folder: Path, fold: int) -> Path:
    """The file of the network that has learned nothing of a fold."""
    return folder / f"without_{fold}.npz"
