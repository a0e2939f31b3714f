"""A disk that remembers every operation, and the states in which a crash may leave it.

Legal states, for every moment: the names are those of the operations up to then, but a new name or a rename
that no ``sync_folder`` followed may or may not be there; the contents of a file are those of its last sync
and any beginning of what was written after it. Nothing else: bytes do not change by themselves and what was
synced is not lost.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from narrator.hearing.files import Files, OpenFile


@dataclass
class Content:
    """A file's bytes: how many of them are surely on the disk."""

    data: bytes = b""
    synced: int = 0


@dataclass
class State:
    """What a disk holds: names that are sure, and changes of names that are not yet."""

    files: dict[str, Content] = field(default_factory=dict)
    sure: dict[str, Content] = field(default_factory=dict)

    def snapshot(self) -> State:
        copies = {id(c): Content(c.data, c.synced) for c in [*self.files.values(), *self.sure.values()]}
        return State(
            {name: copies[id(c)] for name, c in self.files.items()},
            {name: copies[id(c)] for name, c in self.sure.items()},
        )


class RememberingFiles(Files):
    """Does everything for real and notes the state after each operation."""

    def __init__(self) -> None:
        self.now = State()
        self.states: list[State] = [self.now.snapshot()]

    def _note(self) -> None:
        self.states.append(self.now.snapshot())

    def append(self, path: Path) -> OpenFile:
        content = self.now.files.setdefault(path.name, Content())
        self._note()
        return _Remembering(path, content, self._note)

    def put(self, path: Path, data: bytes) -> None:
        content = self.now.files[path.name] = Content()
        self._note()
        content.data = data
        self._note()
        super().put(path, data)
        content.synced = len(data)
        self._note()

    def rename(self, old: Path, new: Path) -> None:
        super().rename(old, new)
        self.now.files[new.name] = self.now.files.pop(old.name)
        self._note()

    def remove(self, path: Path) -> None:
        super().remove(path)
        self.now.files.pop(path.name, None)
        self._note()

    def sync_folder(self, folder: Path) -> None:
        super().sync_folder(folder)
        self.now.sure = dict(self.now.files)
        self._note()


class _Remembering(OpenFile):
    def __init__(self, path: Path, content: Content, note: object) -> None:
        super().__init__(path)
        self._content, self._note = content, note

    def write(self, data: bytes) -> None:
        super().write(data)
        self._content.data += data
        self._note()  # type: ignore[operator]

    def sync(self) -> None:
        super().sync()
        self._content.synced = len(self._content.data)
        self._note()  # type: ignore[operator]

    def cut(self, length: int) -> None:
        super().cut(length)
        self._content.data = self._content.data[:length]
        self._content.synced = min(self._content.synced, length)
        self._note()  # type: ignore[operator]


def crashed(state: State) -> Iterator[dict[str, bytes]]:
    """Name to bytes after a crash in this state: all that was written, only what is sure, and between."""
    seen: set[tuple[tuple[str, bytes], ...]] = set()
    for names in (state.files, state.sure, {**state.sure, **state.files}):
        for share in (1.0, 0.0, 0.5):
            left = {
                name: c.data[: c.synced + int((len(c.data) - c.synced) * share)] for name, c in names.items()
            }
            key = tuple(sorted(left.items()))
            if key not in seen:
                seen.add(key)
                yield left


def lay_out(files: dict[str, bytes], folder: Path) -> None:
    folder.mkdir()
    for name, data in files.items():
        (folder / name).write_bytes(data)
