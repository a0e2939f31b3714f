"""Whether a session that was never ended is still at work."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from filelock import FileLock

from narrator.cli import cli
from narrator.store.alive import HEARING, LISTENING, TAPE, broken_off, held
from narrator.store.erase import sound_folder
from narrator.store.review import ReviewReader, ReviewWriter
from narrator.store.rows import NewSession, wall_time

_HOLD = """
import sys, filelock
lock = filelock.FileLock(sys.argv[1])
lock.acquire()
print("held", flush=True)
input()
"""


def begun(writer: ReviewWriter, *files: str) -> str:
    """A session without an end, and what its program left in its folder."""
    one = writer.start_session(NewSession("2031-03-06T09:00:00+01:00"))
    folder = sound_folder(writer.home, one)
    for name in files:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / name).touch()
    return one


def test_a_job_whose_program_was_killed_has_broken_off(home: Path) -> None:
    with ReviewWriter(home) as writer, ReviewReader(home) as reader:
        job = begun(writer, TAPE)
        holding = [sys.executable, "-c", _HOLD, str(home / LISTENING)]
        with subprocess.Popen(holding, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as program:
            assert program.stdout is not None and program.stdout.readline().strip() == b"held"
            assert (reader.job(job).state, reader.broken()) == ("live", ())
            before = reader.news_version()
            program.kill()
        assert (reader.job(job).state, reader.broken()) == ("broken", (job,))
        assert reader.news_version() != before, "who has the board open is told"
        assert reader.states() == {"live": 0, "review": 0, "approved": 0, "broken": 1}
        assert [row.id for row in reader.jobs(state="broken").rows] == [job]
        assert reader.jobs(state="live").total == 0
        writer.end_session(job, wall_time(), 1.0, "recovered")
        assert reader.job(job).state == "review"


def test_a_file_that_is_heard_and_another_programs_job_have_not(home: Path) -> None:
    with ReviewWriter(home) as writer:
        heard, foreign = begun(writer, HEARING), begun(writer)
    lock = FileLock(sound_folder(home, heard) / HEARING)
    with lock:
        assert broken_off(home, (heard, foreign)) == ()
    assert broken_off(home, (heard, foreign)) == (heard,)


def test_looking_at_a_lock_neither_makes_nor_keeps_it(home: Path) -> None:
    path = home / LISTENING
    assert not held(path) and not path.exists()
    home.mkdir()
    with FileLock(path):
        assert held(path)
    for _ in range(2):
        assert not held(path)
    with FileLock(path, timeout=0):
        pass


def test_a_lock_that_cannot_be_opened_may_be_held(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home.mkdir()
    (home / LISTENING).touch()

    def refused(lock: FileLock) -> None:
        raise PermissionError(13, "read-only disk")

    monkeypatch.setattr(FileLock, "acquire", refused)
    assert held(home / LISTENING)


def test_the_list_of_sessions_says_which_broke_off(home: Path) -> None:
    with ReviewWriter(home) as writer:
        begun(writer, TAPE)
    listed = CliRunner().invoke(cli, ["sessions", "--json"], env={"NARRATOR_HOME": str(home)})
    assert [row["state"] for row in json.loads(listed.stdout)] == ["broke off"]
    with FileLock(home / LISTENING):
        listed = CliRunner().invoke(cli, ["sessions", "--json"], env={"NARRATOR_HOME": str(home)})
    assert [row["state"] for row in json.loads(listed.stdout)] == ["open"]
