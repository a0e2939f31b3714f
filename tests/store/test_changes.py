"""Whole or not at all, through crashes, threads and several processes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from narrator.errors import NarratorError
from narrator.store import Reader, Writer
from narrator.store.rows import NewSession
from narrator.values import Utterance
from tests.store.helpers import SAID, STARTED, put


def _python(code: str, *arguments: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", code, *arguments], stdout=subprocess.PIPE, stdin=subprocess.PIPE
    )


def test_an_error_between_statements_keeps_nothing(home: Path) -> None:
    with Writer(home) as writer:
        before = put(writer)
        with pytest.raises(RuntimeError), writer.transaction():
            put(writer)
            raise RuntimeError("between statements")
        with pytest.raises(NarratorError), writer.transaction():
            ident = writer.start_session(NewSession(STARTED))
            writer.add_utterances(ident, SAID)
            writer.add_utterances(ident, SAID)
        put(writer)
    with Reader(home) as reader:
        assert len(reader.sessions()) == 2
        assert reader.sessions()[0].id == before


KILLED = """
import os, signal, sys
from pathlib import Path
from narrator.store import Writer
from narrator.store.rows import NewSession
from narrator.values import Utterance
writer = Writer(Path(sys.argv[1]))
ident = writer.start_session(NewSession("2031-03-04T09:00:00+01:00"))
writer.add_utterances(ident, [Utterance(1, 0.0, 1.0, "kept before the crash")])
with writer.transaction():
    writer.add_utterances(ident, [Utterance(2, 1.0, 2.0, "half of a change")])
    os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_killed_process_loses_only_its_open_change(home: Path) -> None:
    child = _python(KILLED, str(home))
    child.communicate()
    assert child.returncode == -signal.SIGKILL
    with Writer(home) as writer, Reader(home) as reader:
        (row,) = reader.sessions()
        assert [u.text for u in reader.facts(row.id).utterances] == ["kept before the crash"]
        assert row.state == "open"
        assert [hit.utterance for hit in reader.search("crash")] == [1]
        assert reader.search("half") == []
        writer.end_session(row.id, STARTED, None, "interrupted")
        assert reader.sessions()[0].state == "interrupted"


BUSY = """
import sys
from pathlib import Path
from narrator.store import Writer
from narrator.store.rows import NewSession
from narrator.values import Utterance
print("ready", flush=True)
sys.stdin.readline()
with Writer(Path(sys.argv[1])) as writer:
    for n in range(25):
        with writer.transaction():
            ident = writer.start_session(NewSession("2031-03-04T09:00:00+01:00", sys.argv[2]))
            said = [Utterance(i, 0.0, 1.0, f"{sys.argv[2]} says {i}") for i in range(4)]
            writer.add_utterances(ident, said)
"""


def test_two_processes_write_at_once(home: Path) -> None:
    """Both start on a home that does not exist: making, upgrading and writing all collide."""
    children = [_python(BUSY, str(home), name) for name in ("left", "right")]
    for child in children:
        assert child.stdout and child.stdout.readline() == b"ready\n"
    for child in children:
        assert child.stdin
        child.stdin.write(b"\n")
        child.stdin.flush()
    for child in children:
        child.communicate()
    assert [child.returncode for child in children] == [0, 0]
    with Reader(home) as reader:
        rows = reader.sessions()
        assert sorted(row.source or "" for row in rows) == ["left"] * 25 + ["right"] * 25
        assert all(row.utterances == 4 for row in rows)
        assert len({row.id for row in rows}) == 50
        assert len(reader.search("left", most=500)) == 100


def test_threads_share_one_writer(home: Path) -> None:
    with Writer(home) as writer:
        ident = writer.start_session(NewSession(STARTED))

        def say(first: int) -> None:
            for n in range(first, first + 20):
                writer.add_utterances(ident, [Utterance(n, float(n), n + 1.0, "thread")])

        threads = [threading.Thread(target=say, args=(first,)) for first in (0, 100, 200)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        with Reader(home) as reader:
            assert len(reader.facts(ident).utterances) == 60


def test_a_change_of_one_thread_is_not_part_of_anothers(home: Path) -> None:
    with Writer(home) as writer:
        ident = writer.start_session(NewSession(STARTED))
        other = threading.Thread(target=writer.add_utterances, args=(ident, [Utterance(2, 1.0, 2.0, "mine")]))
        with pytest.raises(RuntimeError), writer.transaction():
            writer.add_utterances(ident, [Utterance(1, 0.0, 1.0, "taken back")])
            other.start()
            other.join(timeout=0.2)
            raise RuntimeError
        other.join()
        with Reader(home) as reader:
            assert [u.text for u in reader.facts(ident).utterances] == ["mine"]


def test_facts_are_all_of_one_moment(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
        with Reader(home) as reader:
            before = reader.facts(ident)
            done: list[str] = []

            def meanwhile(sql: str, parameters: object) -> None:
                if "corrections" in sql and not done:
                    done.append(sql)
                    writer.add_utterances(ident, [Utterance(9, 8.0, 9.0, "said meanwhile")])

            with reader._db.tracer(meanwhile):
                assert reader.facts(ident) == before
            assert done
            assert len(reader.facts(ident).utterances) == 4


def test_a_reader_does_not_see_an_open_change(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
        with Reader(home) as reader, writer.transaction():
            writer.add_utterances(ident, [Utterance(9, 8.0, 9.0, "not yet")])
            assert len(reader.facts(ident).utterances) == 3


def test_the_home_is_for_its_owner_only(home: Path) -> None:
    Writer(home).close()
    if os.name == "posix":
        assert home.stat().st_mode & 0o077 == 0
