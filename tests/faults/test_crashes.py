"""A crash at every write of the tape and of the store; docs/faults.md says what is simulated."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import numpy as np
import pytest

from narrator.hearing.archive import pack, read_samples, recover
from narrator.hearing.tape import Sealed, Tape, TapeOptions
from narrator.store import Reader, Writer
from narrator.store.rows import NewSession
from narrator.values import SAMPLE_RATE, AudioChunk, Utterance
from tests.faults.crashes import RememberingFiles, crashed, lay_out

BLOCK = 800
SYNC_S = 0.2


def test_the_tape_survives_a_crash_at_every_operation(tmp_path: Path) -> None:
    files = RememberingFiles()
    sealed: list[Sealed] = []
    sound = (np.random.default_rng(1).integers(-9000, 9000, 17_600) / 32768).astype(np.float32)
    written: list[int] = [0]  # sample that had been written when each state was noted
    tape = Tape(tmp_path / "real", wall=lambda: "now", sealed=sealed.append, files=files,
                options=TapeOptions(segment=0.4, sync=SYNC_S), steady=lambda: 0.0)  # fmt: skip
    for at in range(0, len(sound), BLOCK):
        tape.write(AudioChunk(sound[at : at + BLOCK], at))
        while sealed:
            pack(tape.folder, sealed.pop(0), files)
        # While a block is being written it may or may not be there; after it, it must be, but for the sync.
        written += [at] * (len(files.states) - len(written))
    tape.seal()
    pack(tape.folder, sealed.pop(), files)
    written += [len(sound)] * (len(files.states) - len(written))
    count = 0
    for state, least in zip(files.states, written, strict=True):
        for left in crashed(state):
            folder = tmp_path / f"crash{count}"
            count += 1
            lay_out(left, folder)
            found = recover(folder)
            assert not found.damaged
            assert least - found.end <= (SYNC_S + 0.05) * SAMPLE_RATE
            assert np.array_equal(read_samples(folder, 0, found.end), sound[: found.end])
            assert {path.suffix for path in folder.iterdir()} <= {".flac", ".jsonl"}
            shutil.rmtree(folder)
    assert count > 200


# ---------------------------------------------------------------- the store


def kept(home: Path) -> list[str]:
    with Writer(home), Reader(home) as reader:
        return [one.text for row in reader.sessions() for one in reader.facts(row.id).utterances]


def copy(home: Path, to: Path, wal: bytes, database: bytes | None = None) -> None:
    """The files as a crash leaves them; the index of the journal is not durable and is not copied."""
    shutil.rmtree(to, ignore_errors=True)
    to.mkdir()
    (to / "narrator.db").write_bytes((home / "narrator.db").read_bytes() if database is None else database)
    if wal:
        (to / "narrator.db-wal").write_bytes(wal)


@pytest.fixture
def grown(tmp_path: Path) -> tuple[Path, list[tuple[int, int]], bytes, Writer]:
    """A store being written: (length of the journal, utterances kept) after each commit."""
    home = tmp_path / "home"
    Writer(home).close()
    writer = Writer(home)
    writer._db.execute("PRAGMA wal_autocheckpoint = 0")
    session = writer.start_session(NewSession("2031-03-04T09:00:00+01:00"))
    wal = home / "narrator.db-wal"
    commits = [(wal.stat().st_size, 0)]
    for number in range(1, 9):
        text = " ".join(["remark", str(number), *["filling"] * 40 * number])
        writer.add_utterances(session, [Utterance(number, float(number), number + 0.5, text)])
        commits.append((wal.stat().st_size, number))
    return home, commits, wal.read_bytes(), writer


def test_every_beginning_of_the_journal_is_a_whole_number_of_commits(
    grown: tuple[Path, list[tuple[int, int]], bytes, Writer], tmp_path: Path
) -> None:
    """What SQLite appends to its journal may stop anywhere; each commit was synced before it returned."""
    home, commits, journal, writer = grown
    frame = 24 + sqlite_page(home)
    cuts = sorted(
        {
            *range(32, len(journal) + 1, frame),
            *range(40, len(journal), frame * 3 + 17),
            *(n for n, _ in commits),
        }
    )
    for cut in cuts:
        copy(home, tmp_path / "crash", journal[:cut])
        texts = kept(tmp_path / "crash")
        whole = max((n for length, n in commits if length <= cut), default=0)
        assert len(texts) == whole
        assert [text.split()[1] for text in texts] == [str(n) for n in range(1, whole + 1)]
    assert len(cuts) > 60
    writer.close()


def test_a_crash_while_the_journal_is_folded_in_loses_nothing(
    grown: tuple[Path, list[tuple[int, int]], bytes, Writer], tmp_path: Path
) -> None:
    """Folding writes pages into the file in some order; the journal stays whole until they are all synced."""
    home, commits, journal, writer = grown
    before = (home / "narrator.db").read_bytes()
    writer.close()
    after = (home / "narrator.db").read_bytes()
    page = sqlite_page(home)
    chance = np.random.default_rng(3)
    for _ in range(40):
        mixed = bytearray(before.ljust(len(after), b"\0"))
        for at in range(0, len(after), page):
            if chance.random() < 0.5:
                torn = page if chance.random() < 0.7 else int(chance.integers(page))
                mixed[at : at + torn] = after[at : at + torn]
        length = len(after) if chance.random() < 0.5 else len(before)
        copy(home, tmp_path / "crash", journal, bytes(mixed[:length]))
        assert len(kept(tmp_path / "crash")) == commits[-1][1]


def sqlite_page(home: Path) -> int:
    connection = sqlite3.connect(home / "narrator.db")
    try:
        return int(connection.execute("PRAGMA page_size").fetchone()[0])
    finally:
        connection.close()
