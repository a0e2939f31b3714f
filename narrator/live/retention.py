"""Deleting sound that has been kept long enough; text and record stay."""

from __future__ import annotations

import shutil
from datetime import datetime, timedelta

from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.store.rows import Mark, wall_time

SOUND_DELETED = "sound_deleted"


def delete_old_sound(writer: Writer, days: int, now: datetime | None = None) -> list[str]:
    """Delete the sound of ended sessions that began more than ``days`` days ago; gives their ids.

    That it was deleted, and when, is kept as a mark. With 0 nothing is deleted.
    """
    if days <= 0:
        return []
    before = (now or datetime.now().astimezone()) - timedelta(days=days)
    with Reader(writer.home) as reader:
        rows = reader.sessions()
    deleted = []
    for row in rows:
        folder = sound_folder(writer.home, row.id)
        if row.state == "open" or not folder.is_dir() or _began(row.started) > before:
            continue
        writer.add_mark(row.id, Mark(row.audio_seconds or 0.0, SOUND_DELETED, wall_time()))
        shutil.rmtree(folder)
        deleted.append(row.id)
    return deleted


def _began(started: str) -> datetime:
    found = datetime.fromisoformat(started)
    return found if found.tzinfo else found.astimezone()
