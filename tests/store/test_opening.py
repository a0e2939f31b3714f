"""What is wrong with a file is said in a coded error, and the file stays as it was."""

from __future__ import annotations

import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from sqlite_utils import Database

from narrator.errors import NarratorError
from narrator.store import Reader, Writer
from narrator.store.opening import database_path, version_of
from narrator.store.schema import APPLICATION_ID, SCHEMA, migrations
from narrator.values import Utterance
from tests.store.helpers import SAID, STARTED, put


def _open_both(home: Path, code: str) -> None:
    """Reader and Writer refuse with this code and leave every byte and name as it was."""
    path = database_path(home)
    before = path.read_bytes(), sorted(home.iterdir())
    for kind in (Reader, Writer):
        with pytest.raises(NarratorError) as caught:
            kind(home, wait=0.05)
        assert caught.value.code == code
        assert str(path) in str(caught.value)
    assert (path.read_bytes(), sorted(home.iterdir())) == before


def test_a_new_home_gets_every_migration(home: Path) -> None:
    Writer(home).close()
    db = Database(database_path(home))
    names = [row["name"] for row in db.table("_sqlite_migrations").rows]
    assert names == [
        "facts", "search", "derived", "review", "asking", "two_ears", "asking_faster", "asking_by_system",
        "asking_by_concern", "asking_by_ending", "added_lines",
    ]  # fmt: skip
    assert len(names) == SCHEMA == version_of(db)
    assert db.journal_mode == "wal"
    assert db.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    db.close()


def test_facts_are_committed_to_the_disk(home: Path) -> None:
    with Writer(home) as writer, writer.transaction() as db:
        assert db.execute("PRAGMA synchronous").fetchone()[0] == 2
        assert db.execute("PRAGMA secure_delete").fetchone()[0] == 1


@pytest.mark.parametrize("kind", [Reader, Writer])
def test_an_older_file_is_brought_up_to_date(home: Path, kind: type[Reader] | type[Writer]) -> None:
    home.mkdir()
    old = Database(database_path(home))
    migrations.apply(old, stop_before="search")
    old.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    old.execute("PRAGMA user_version = 1")
    old.table("sessions").insert({"id": "0ld", "started": STARTED})
    old.table("utterances").insert(
        {"session": "0ld", "id": 4, "start": 0.0, "end": 1.0, "text": "wiper linkage"}
    )
    old.close()
    kind(home).close()
    with Reader(home) as reader:
        assert version_of(reader._db) == SCHEMA
        assert [hit.utterance for hit in reader.search("linkage")] == [4]
        assert reader.facts("0ld").utterances[0].text == "wiper linkage"


def test_an_upgrade_that_fails_leaves_the_older_file(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home.mkdir()
    old = Database(database_path(home))
    migrations.apply(old, stop_before="search")
    old.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    old.execute("PRAGMA user_version = 1")
    schema = old.schema
    old.close()

    def fail(db: Database) -> None:
        db.table("half").create({"a": int})
        raise sqlite3.OperationalError("power cut")

    with monkeypatch.context() as patch:
        patch.setattr(migrations._migrations[2], "fn", fail)
        with pytest.raises(NarratorError, match="E309"):
            Writer(home)
    again = Database(database_path(home))
    assert (again.schema, version_of(again)) == (schema, 1)
    again.close()
    Writer(home).close()


def test_a_newer_file_is_refused_untouched(home: Path) -> None:
    with Writer(home) as writer:
        put(writer)
    newer = sqlite3.connect(database_path(home))
    newer.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    newer.close()
    _open_both(home, "E303")


def test_a_newer_version_still_in_the_journal_is_refused(home: Path) -> None:
    with Writer(home) as writer:
        put(writer)
    path = database_path(home)
    newer = sqlite3.connect(path)
    newer.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    assert path.read_bytes()[60:64] == SCHEMA.to_bytes(4, "big")  # the file's own head does not know yet
    _open_both(home, "E303")
    crashed = home.with_name("crashed")  # the same files after a crash: nobody has folded the journal in
    shutil.copytree(home, crashed)
    newer.close()
    names = ("narrator.db", "narrator.db-wal")
    before = [(crashed / name).read_bytes() for name in names]
    for kind in (Reader, Writer):
        with pytest.raises(NarratorError, match="E303"):
            kind(crashed)
    assert [(crashed / name).read_bytes() for name in names] == before


def test_another_programs_database_is_refused_untouched(home: Path) -> None:
    home.mkdir()
    other = sqlite3.connect(database_path(home))
    other.execute("CREATE TABLE recipes(name)")
    other.execute("PRAGMA user_version = 2")
    other.close()
    _open_both(home, "E304")


@pytest.mark.parametrize("content", [b"not a database at all " * 40, b"SQLite format 3\x00 cut off", b"x"])
def test_what_is_no_database_is_refused_untouched(home: Path, content: bytes) -> None:
    home.mkdir()
    database_path(home).write_bytes(content)
    _open_both(home, "E302")


def test_a_damaged_file_is_refused_untouched(home: Path) -> None:
    with Writer(home) as writer:
        for _ in range(20):
            put(writer)
    path = database_path(home)
    content = bytearray(path.read_bytes())
    content[4096 : len(content) : 512] = b"\xa5" * len(content[4096 : len(content) : 512])
    path.write_bytes(content)
    with pytest.raises(NarratorError, match="E302"):
        Writer(home)
    assert path.read_bytes() == content
    with Reader(home) as reader, pytest.raises(NarratorError, match="E302"):
        reader.search("strap")
        reader.sessions()
    assert path.read_bytes() == content


def test_damage_in_one_far_page_is_noticed_before_writing(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer, tuple(Utterance(n, n, n + 1.0, f"line {n} of many") for n in range(2000)))
    path = database_path(home)
    content = bytearray(path.read_bytes())
    for found in re.finditer(b"line 1000 of many", bytes(content)):
        page = found.start() // 4096 * 4096
        content[page : page + 64] = b"\xa5" * 64
    path.write_bytes(content)
    with pytest.raises(NarratorError, match="E302"):
        Writer(home)
    assert path.read_bytes() == content
    with Reader(home) as reader, pytest.raises(NarratorError, match="E302"):
        reader.facts(ident)


def test_a_cut_off_file_is_refused_untouched(home: Path) -> None:
    with Writer(home) as writer:
        for _ in range(20):
            put(writer)
    path = database_path(home)
    content = path.read_bytes()[: 4096 * 9]
    path.write_bytes(content)
    with pytest.raises(NarratorError, match="E302"):
        Writer(home)
    assert path.read_bytes() == content


def test_a_locked_file_is_refused_untouched(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
    holder = sqlite3.connect(database_path(home), isolation_level=None)
    with Writer(home, wait=0.05) as writer:
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(NarratorError, match="E301"):
            writer.add_utterances(ident, SAID[:0])
        with Reader(home) as reader:  # reading goes on
            assert len(reader.facts(ident).utterances) == 3
        holder.execute("ROLLBACK")
        writer.add_gaps(ident, [])
    holder.execute("PRAGMA locking_mode = EXCLUSIVE")
    holder.execute("BEGIN EXCLUSIVE")
    _open_both(home, "E301")
    holder.close()


def test_no_home_is_not_made_by_reading(home: Path) -> None:
    with pytest.raises(NarratorError, match="E307"):
        Reader(home)
    assert not home.exists()


def test_a_home_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(NarratorError, match="E308"):
        Writer(tmp_path / "file" / "home")


def test_an_empty_file_becomes_a_database(home: Path) -> None:
    home.mkdir()
    database_path(home).touch()
    with Writer(home) as writer:
        put(writer)


def test_a_reader_cannot_write(home: Path) -> None:
    with Writer(home) as writer:
        put(writer)
    with Reader(home) as reader:
        for off in ("ON", "OFF"):
            reader._db.execute(f"PRAGMA query_only = {off}")
            with pytest.raises(sqlite3.OperationalError, match="readonly"):
                reader._db.conn.execute("DELETE FROM lines")


WRITES_AND_GOES = """
import sys
from pathlib import Path
from narrator.store import Writer
from narrator.store.rows import NewSession
with Writer(Path(sys.argv[1])) as writer:
    writer.start_session(NewSession("2031-03-04T09:00:00+01:00", "other.wav", "x"))
"""
KEEPS_AND_DIES = """
import os, signal, subprocess, sys
from pathlib import Path
from narrator.store import Reader, Writer
from narrator.store.rows import NewSession
from narrator.values import Utterance
home = Path(sys.argv[1])
writer = Writer(home)
ident = writer.start_session(NewSession("2031-03-04T09:00:00+01:00", "ours.wav", "x"))
with Reader(home) as reader:
    reader.facts(ident)
subprocess.run([sys.executable, "-c", sys.argv[2], str(home)], check=True)
writer.add_utterances(ident, [Utterance(1, 0.0, 1.0, "kept")])
with Reader(home) as reader:
    assert len(reader.facts(ident).utterances) == 1
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_what_is_committed_while_another_program_comes_and_goes_is_on_the_disk(home: Path) -> None:
    """Reading in the process that writes must not let go of the locks that its writer holds."""
    done = subprocess.run(
        [sys.executable, "-c", KEEPS_AND_DIES, str(home), WRITES_AND_GOES],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (-signal.SIGKILL, "")
    with Reader(home) as reader:
        assert {row.source: row.utterances for row in reader.sessions()} == {"ours.wav": 1, "other.wav": 0}


def test_a_home_on_a_disk_that_cannot_be_written_to_is_read(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Writer(home) as writer:
        ident = put(writer)
    (before,) = sorted(home.iterdir())
    told = os.statvfs(home)
    fixed = SimpleNamespace(f_flag=told.f_flag | os.ST_RDONLY)
    monkeypatch.setattr("narrator.store.opening.os.statvfs", lambda path: fixed)
    with Reader(home) as reader:
        assert len(reader.facts(ident).utterances) == len(SAID)
        assert sorted(home.iterdir()) == [before], "nothing was made beside it"
