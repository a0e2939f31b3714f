"""Whether a session that was never ended is still at work.

Its program holds a lock, which the system lets go of when the program is gone, however it went.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from filelock import FileLock, Timeout

from narrator.store.erase import sound_folder

LISTENING = "listening.lock"
"""In the home, held by the one program that listens."""
HEARING = "hearing.lock"
"""In the folder of a session whose sound file is being heard."""
TAPE = "tape.jsonl"
"""In the folder of a session that was listened to."""


def broken_off(home: Path, open_sessions: Iterable[str]) -> tuple[str, ...]:
    """Those of the sessions without an end that no program is at work on any more.

    One without a folder is another program's, which tells nothing of itself: it is left alone.
    """
    found = []
    for session in open_sessions:
        folder = sound_folder(home, session)
        if folder.is_dir():
            lock = home / LISTENING if (folder / TAPE).exists() else folder / HEARING
            if not held(lock):
                found.append(session)
    return tuple(found)


def held(path: Path) -> bool:
    """Whether a program holds the lock just now; where that cannot be told (a read-only disk), it may."""
    if not path.exists():
        return False
    lock = FileLock(path, timeout=0)
    try:
        lock.acquire()
    except (Timeout, OSError):
        return True
    lock.release()
    return False
