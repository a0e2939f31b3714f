"""Records derived by two workers, one of them killed meanwhile, are those that one process derives."""

from __future__ import annotations

import os
import signal
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
from click.testing import CliRunner

from narrator.archive.rebuilding import rebuild
from narrator.archive.spread import Workers, spread
from narrator.cli import cli
from narrator.errors import NarratorError
from narrator.session import keep_session
from narrator.store import Reader, Writer
from narrator.values import Correction, Utterance

SAID = ("the lights flicker", "i suspect the ground strap", "or the alternator", "i test the alternator",
        "fourteen volts", "so it's not the alternator", "yep it's the ground strap it's loose")  # fmt: skip
JOBS = 30


@pytest.fixture
def home(tmp_path: Path) -> Path:
    for n in range(JOBS):
        said = [f"job {n}", *SAID[: 2 + n % 6]]
        session = keep_session(tmp_path, [Utterance(i, i * 5.0, i * 5.0 + 3, t) for i, t in enumerate(said)])
    with Writer(tmp_path) as writer:
        writer.add_correction(session, Correction(1, "the lamps flicker", "ana", "2031-01-01T00:00:00Z"))
    return tmp_path


def kept(home: Path) -> dict[str, tuple[str, str]]:
    with Reader(home) as reader:
        found = {row.id: reader.record(row.id) for row in reader.sessions()}
    return {session: (one.text, one.facts) for session, one in found.items() if one}


def drop(home: Path) -> list[str]:
    with Writer(home) as writer, Reader(home) as reader:
        writer.drop_records()
        return [row.id for row in reader.sessions()]


def test_a_killed_worker_changes_no_byte(home: Path) -> None:
    pytest.importorskip("distributed")
    alone = list(rebuild(home, drop(home), Workers()))
    wanted = kept(home)
    assert len(wanted) == JOBS
    sessions = drop(home)
    assert kept(home) == {}
    found = []
    with taken(8787):
        for one in rebuild(home, sessions, Workers(2)):
            found.append(one)
            if len(found) == 3:
                os.kill(workers()[0], signal.SIGKILL)
    assert found == alone
    assert kept(home) == wanted


@contextmanager
def taken(port: int) -> Iterator[None]:
    """A port that another program has, Dask's own for one: then it warns, and a warning fails a test."""
    with socket.socket() as other:
        with suppress(OSError):  # somebody has it already
            other.bind(("127.0.0.1", port))
            other.listen()
        yield


def workers() -> list[int]:
    """Processes that work for us: children of children that run Dask's nanny."""
    import psutil  # noqa: PLC0415

    ours = psutil.Process().children(recursive=True)
    found = [p.pid for p in ours if p.is_running() and "multiprocessing.spawn" in " ".join(p.cmdline())]
    assert found
    return found


def test_an_error_of_the_work_is_told(home: Path) -> None:
    pytest.importorskip("distributed")
    with pytest.raises(ZeroDivisionError):
        list(spread(divided, [1, 2, 0, 3], Workers()))


def divided(by: int) -> float:
    return 1 / by


def test_no_scheduler_there(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setenv("NARRATOR_HOME", str(home))
    run = CliRunner().invoke(cli, ["rebuild", "--scheduler", "nowhere://x"])
    assert isinstance(run.exception, NarratorError)
    assert run.exception.code == "E820"
    both = CliRunner().invoke(cli, ["rebuild", "--workers", "2", "--scheduler", "tcp://127.0.0.1:1"])
    assert isinstance(both.exception, NarratorError)
    assert both.exception.code == "E824"


def test_what_to_install_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(NarratorError, match=r"narrator\[archive\]"):
        list(spread(divided, [1], Workers(2)))
