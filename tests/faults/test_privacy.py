"""Nothing leaves the machine, forgetting takes the sound along, and sound may be deleted after its time."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from narrator.live.recover import recover_sessions
from narrator.live.retention import SOUND_DELETED, delete_old_sound
from narrator.session import current_record
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from tests.live.helpers import ByLength, facts, listen

ROOT = Path(__file__).parents[2]
GUARD = """
import socket, sys
def refuse(event, args):
    if event in ("socket.connect", "socket.getaddrinfo", "socket.sendto", "socket.gethostbyname"):
        with open({log!r}, "a") as file:
            file.write(event + " " + repr(args[1:]) + chr(10))
        raise OSError("no network here")
sys.addaudithook(refuse)
"""


@pytest.mark.engine
def test_listening_opens_no_connection_in_any_of_its_processes(tmp_path: Path) -> None:
    """Every Python process of the run, the engine's too, has a hook that refuses and reports connections."""
    log = tmp_path / "sockets.log"
    (tmp_path / "sitecustomize.py").write_text(GUARD.format(log=str(log)))
    environment = os.environ | {
        "NARRATOR_HOME": str(tmp_path / "home"), "PYTHONPATH": f"{tmp_path}{os.pathsep}{ROOT}",
    }  # fmt: skip
    probe = subprocess.run(
        [sys.executable, "-c", "import socket; socket.create_connection(('127.0.0.1', 9))"],
        env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "no network here" in probe.stderr, "the guard itself must work"
    log.unlink()
    code = "import sys; from narrator.cli import main; sys.argv[0] = 'narrator'; main()"
    talk = ROOT / "tests" / "hearing" / "data" / "two_utterances.flac"
    run = subprocess.run(
        [sys.executable, "-c", code, "listen", "--source", str(talk), "--speed", "0", "--plain"],
        env=environment, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert "Nothing leaves this machine" in run.stderr
    assert not log.exists(), log.read_text()
    with Reader(tmp_path / "home") as reader:
        (row,) = reader.sessions()
    assert (row.state, row.utterances) == ("complete", 2)


def test_forgetting_takes_sound_and_text(tmp_path: Path) -> None:
    home = tmp_path / "home"
    _, (kept,) = listen(home, ["the quokka bracket is loose"])
    folder = sound_folder(home, kept)
    assert list(folder.glob("*.flac"))
    with Writer(home) as writer:
        writer.forget(kept)
    assert not folder.exists()
    assert b"quokka" not in b"".join(p.read_bytes() for p in home.rglob("*") if p.is_file())


def test_old_sound_goes_and_its_record_stays(tmp_path: Path) -> None:
    home = tmp_path / "home"
    _, (kept,) = listen(home, ["two ten mil bolts come off"])
    began = datetime.fromisoformat(facts(home, kept).session.started)
    before = current_record(home, kept).model_dump(exclude={"looks"})
    with Writer(home) as writer:
        assert delete_old_sound(writer, 30, began + timedelta(days=29)) == []
        assert delete_old_sound(writer, 0, began + timedelta(days=999)) == []
        assert delete_old_sound(writer, 30, began + timedelta(days=31)) == [kept]
        assert delete_old_sound(writer, 30, began + timedelta(days=31)) == []
        assert recover_sessions(writer, lambda: ByLength([])) == []
    assert not sound_folder(home, kept).exists()
    assert [mark.kind for mark in facts(home, kept).marks] == [SOUND_DELETED]
    assert current_record(home, kept).model_dump(exclude={"looks"}) == before
