"""Forgetting: what it takes until the words of a session are not in the file any more.

Deleted rows would live on in free pages, in the segments of the full-text index and in the journal. So:
pages are zeroed when freed (secure_delete), the index is built anew, the file rewritten (VACUUM) and the
journal cut to nothing. The session stands in ``erasures`` until all of that is done, so that a crash or
a busy reader only delays it: the next writer goes on.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from sqlite_utils import Database

from narrator.store.asking import INDEXED
from narrator.store.flatten import DERIVED
from narrator.store.schema import ADDITIONS, FACTS, REVIEW


def sound_folder(home: Path, session: str) -> Path:
    """Where all sound of a session lies."""
    return home / "sound" / session


def lesson_file(home: Path, session: str) -> Path:
    """Where trainees' answers about a session are kept, if there are any."""
    return home / "lessons" / f"{session}.jsonl"


def erase(db: Database, session: str) -> None:
    """Delete every row of a session and note that the wiping is due; call inside a transaction."""
    db.table("erasures").insert({"session": session})
    for name in ("records", *DERIVED, *REVIEW, *ADDITIONS, *reversed(FACTS)):
        db.table(name).delete_where("session = ?", [session])
    db.table("sessions").delete_where("id = ?", [session])


def finish_erasures(db: Database, home: Path) -> bool:
    """Wipe what deleted sessions left; False when someone else's reading stands in the way."""
    due = [str(row["session"]) for row in db.table("erasures").rows]
    if not due:
        return True
    for session in due:
        folder = sound_folder(home, session)
        if folder.exists():
            shutil.rmtree(folder)
        lesson_file(home, session).unlink(missing_ok=True)
    for name in ("lines", *INDEXED):
        db.table(name).rebuild_fts()
    db.execute("PRAGMA temp_store = MEMORY")  # VACUUM's scratch copy must not reach the disk
    db.vacuum()
    if not _cut_journal(db):
        return False
    db.table("erasures").delete_where(f"session IN ({', '.join('?' * len(due))})", due)
    return _cut_journal(db)


def _cut_journal(db: Database) -> bool:
    busy = db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
    return not busy
