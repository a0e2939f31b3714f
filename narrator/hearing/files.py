"""The few things the tape does to files, in one place, so that a test can stand in for the disk."""

from __future__ import annotations

import os
from pathlib import Path
from typing import BinaryIO


class OpenFile:
    """A file being appended to, unbuffered: what ``write`` has returned from, the system has."""

    def __init__(self, path: Path) -> None:
        self._file: BinaryIO = path.open("ab", buffering=0)

    def write(self, data: bytes) -> None:
        """Append all of ``data``, or raise OSError; a part of it may then be in the file."""
        rest = memoryview(data)
        while rest:
            rest = rest[self._file.write(rest) :]

    def sync(self) -> None:
        """Return when the disk has it."""
        os.fsync(self._file.fileno())

    def cut(self, length: int) -> None:
        """Drop what lies beyond ``length`` bytes."""
        self._file.truncate(length)

    def close(self) -> None:
        """Close it; does not sync."""
        self._file.close()


class Files:
    """The disk as it is."""

    def append(self, path: Path) -> OpenFile:
        """Open for appending; made if need be."""
        return OpenFile(path)

    def put(self, path: Path, data: bytes) -> None:
        """Write a new file and wait until the disk has its contents (not yet its name)."""
        with path.open("wb", buffering=0) as file:
            file.write(data)
            os.fsync(file.fileno())

    def rename(self, old: Path, new: Path) -> None:
        """Give a file another name, in place of one that has it."""
        old.replace(new)

    def remove(self, path: Path) -> None:
        """Remove a file, if it is there."""
        path.unlink(missing_ok=True)

    def sync_folder(self, folder: Path) -> None:
        """Return when the disk has the names in ``folder``."""
        if os.name != "posix":  # elsewhere a folder cannot be opened, and names are kept in order
            return
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
