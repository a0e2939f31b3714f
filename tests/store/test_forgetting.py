"""After forgetting, the words are in no file of the home."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from narrator.errors import NarratorError
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.store.opening import database_path
from narrator.store.rows import Mark, NewSession, Strike
from narrator.store.schema import ADDITIONS, FACTS
from narrator.values import Correction, Gap, Utterance, Word
from tests.store.helpers import STARTED, bytes_in, facts_now, put, record_json

SECRETS = (
    b"zephyrine",
    b"quillback",
    b"marzipan",
    b"hollyhock",
    b"bergamot",
    b"tamarisk",
    b"damson",
    b"sorrel",
)


def _secret_session(writer: Writer) -> str:
    """A session with a telling word in every place that holds text."""
    ident = writer.start_session(NewSession(STARTED, "zephyrine.wav", "hand", "zephyrine"))
    said = [
        Utterance(n, n, n + 1.0, f"the quillback filter {n}", (Word("quillback", n, n + 1.0),))
        for n in range(300)
    ]
    writer.add_utterances(ident, said)
    writer.add_correction(ident, Correction(1, "the marzipan filter", "Ana", STARTED, "hollyhock"))
    writer.add_strike(ident, Strike(2, "bergamot", STARTED))
    writer.add_mark(ident, Mark(1.0, "photo", "tamarisk"))
    writer.add_gaps(ident, [Gap(0.0, 1.0, "damson")])
    writer.end_session(ident, STARTED, 300.0)
    lines = [{"id": n, "clean": f"The sorrel filter {n}."} for n in range(3, 300)]
    stored = writer.keep_record(ident, "t1", record_json(utterances=lines), facts_now(writer.home, ident))
    assert stored is not None
    folder = sound_folder(writer.home, ident)
    folder.mkdir(parents=True)
    (folder / "sound.wav").write_bytes(b"zephyrine sound")
    return ident


def test_forgotten_text_is_in_no_file(home: Path) -> None:
    with Writer(home) as writer:
        kept = put(writer)
        ident = _secret_session(writer)
        assert all(secret in bytes_in(home) for secret in SECRETS)
        writer.forget(ident)
        left = bytes_in(home)  # the writer is still open: the journal is looked at too
        assert not [secret for secret in (*SECRETS, ident.encode()) if secret in left]
    assert not [secret for secret in SECRETS if secret in bytes_in(home)]
    assert not sound_folder(home, ident).exists()
    with Reader(home) as reader:
        assert [row.id for row in reader.sessions()] == [kept]
        assert reader.search("sorrel quillback") == []
        assert len(reader.search("strap")) == 1
        with pytest.raises(NarratorError, match="E305"):
            reader.facts(ident)
        for table in (*FACTS, *ADDITIONS, "records", "lines", "erasures"):
            column = "session"
            assert reader._db.table(table).count_where(f"{column} = ?", [ident]) == 0
    check = sqlite3.connect(database_path(home))
    assert check.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    check.close()


def test_a_reading_program_only_delays_the_wiping(home: Path) -> None:
    with Writer(home, wait=0.05) as writer:
        ident = _secret_session(writer)
        reader = sqlite3.connect(database_path(home), isolation_level=None)
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM utterances").fetchone()
        with pytest.raises(NarratorError, match="E312"):
            writer.forget(ident)
        with Reader(home) as mine:
            assert mine.sessions() == []
            assert [row["session"] for row in mine._db.table("erasures").rows] == [ident]
        reader.close()
    Writer(home).close()  # the next writer finishes
    assert not [secret for secret in SECRETS if secret in bytes_in(home)]


def test_a_crash_after_deleting_is_made_good_by_the_next_writer(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Writer(home) as writer:
        ident = _secret_session(writer)
        with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
            patch.setattr("narrator.store.erase.shutil.rmtree", _stop)
            writer.forget(ident)
    assert sound_folder(home, ident).exists()
    Writer(home).close()
    assert not sound_folder(home, ident).exists()
    assert not [secret for secret in SECRETS if secret in bytes_in(home)]


def test_wiping_does_not_rest_on_how_sqlite_was_built(home: Path) -> None:
    """Some builds zero freed pages by themselves; with that off, rewriting the file must do."""
    with Writer(home) as writer:
        with writer._lock:
            writer._db.execute("PRAGMA secure_delete = OFF")
        ident = _secret_session(writer)
        writer.forget(ident)
    assert not [secret for secret in SECRETS if secret in bytes_in(home)]


def _stop(path: Path) -> None:
    raise KeyboardInterrupt


def test_a_backup_is_whole_and_never_overwrites(home: Path, tmp_path: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
    target = tmp_path / "copies" / "copy.db"
    with Reader(home) as reader:
        with pytest.raises(NarratorError, match="E501"):
            reader.backup(target)
        target.parent.mkdir()
        reader.backup(target)
        assert [path.name for path in target.parent.iterdir()] == ["copy.db"]
        with pytest.raises(NarratorError, match="E502"):
            reader.backup(target)
        original = reader.facts(ident)
    again = tmp_path / "again"
    again.mkdir()
    database_path(again).write_bytes(target.read_bytes())
    with Writer(again), Reader(again) as reader:
        assert reader.facts(ident) == original
