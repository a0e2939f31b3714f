"""What a day in a shop does to a program: full disks, locked stores, pulled plugs, wrong clocks."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from filelock import FileLock

from narrator.cli.listening import command as listen_command
from narrator.errors import NarratorError
from narrator.hearing import portaudio
from narrator.hearing.apart import TendedDecoder
from narrator.hearing.archive import read_samples, tape_end
from narrator.hearing.capture import LOST, Capture, CaptureOptions
from narrator.hearing.files import OpenFile
from narrator.hearing.tape import read_index
from narrator.live import taping
from narrator.live.session import LiveOptions, LiveSession
from narrator.session import current_record
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.values import SAMPLE_RATE
from tests.hearing.fake_sounddevice import FakePortAudio
from tests.hearing.fakes import sound
from tests.live.helpers import ByLength, facts, listen, segmenter

TALK = ["the ground strap is loose", "two ten mil bolts come off", "battery is at twelve point four volts"]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


def full_after(monkeypatch: pytest.MonkeyPatch, room: int) -> None:
    """The tape's disk takes so many bytes of sound and no more."""
    left = [room]
    write = OpenFile.write

    def limited(self: OpenFile, data: bytes) -> None:
        part = data[: max(0, left[0])]
        left[0] -= len(data)
        write(self, part)
        if len(part) < len(data):
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(OpenFile, "write", limited)


def test_when_the_disk_is_full_text_goes_on_and_the_record_says_so(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full_after(monkeypatch, 40_000)
    session, (kept,) = listen(home, TALK)
    one = facts(home, kept)
    assert [u.text for u in one.utterances] == TALK
    (gap,) = one.gaps
    assert "could not be kept" in gap.reason
    assert gap.start == pytest.approx(tape_end(sound_folder(home, kept)) / SAMPLE_RATE, abs=0.05)
    assert gap.end == pytest.approx(one.session.audio_seconds or 0, abs=0.2)
    assert any("E605" in line or "cannot be kept" in line for line in session.log)


def test_sound_stops_before_the_reserve_is_touched_and_comes_back(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rooms = iter([90.0, 30.0, 0.0, 0.0, 500.0])
    monkeypatch.setattr(taping, "_CHECK_S", 0.12)
    init = taping.Taping.__init__

    def with_rooms(self: taping.Taping, *given: object, **named: object) -> None:
        init(self, *given, **named, room=lambda folder, reserve: next(rooms, 500.0))  # type: ignore[arg-type]

    monkeypatch.setattr(taping.Taping, "__init__", with_rooms)
    session, (kept,) = listen(home, TALK)
    one = facts(home, kept)
    assert [u.text for u in one.utterances] == TALK
    assert len(one.gaps) == 1
    log = " | ".join(session.log)
    assert log.index("room for 30 minutes") < log.index("disk is full") < log.index("sound is kept again")


@pytest.mark.skipif(os.geteuid() == 0 and shutil.which("unshare") is None, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_is_an_error_before_anything_is_heard(tmp_path: Path) -> None:
    blocked = tmp_path / "home"
    blocked.write_text("a file where the folder should be")
    result = CliRunner().invoke(listen_command, ["--plain"], env={"NARRATOR_HOME": str(blocked)})
    assert isinstance(result.exception, NarratorError)
    assert result.exception.code == "E308"


def test_a_sound_folder_that_cannot_be_written_leaves_no_session(home: Path) -> None:
    home.mkdir()
    (home / "sound").write_text("in the way")
    with pytest.raises(NarratorError) as caught:
        listen(home, TALK)
    assert caught.value.code == "E605"
    with Reader(home) as reader:
        assert reader.sessions() == []


def test_a_store_that_refuses_for_a_while_gets_every_utterance_in_the_end(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("narrator.live.ears.RETRY_S", 0.2)
    refusals = [3]
    add = Writer.add_utterances

    def refusing(self: Writer, session: str, utterances: object) -> None:
        if refusals[0]:
            refusals[0] -= 1
            raise NarratorError("E308", path=self.path, why="database or disk is full")
        add(self, session, utterances)  # type: ignore[arg-type]

    monkeypatch.setattr(Writer, "add_utterances", refusing)
    session, (kept,) = listen(home, TALK)
    assert [u.text for u in facts(home, kept).utterances] == TALK
    assert any("text waits to be kept" in line for line in session.log)


def test_what_the_store_never_took_is_handed_back(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refusing(self: Writer, session: str, utterances: object) -> None:
        raise NarratorError("E308", path=self.path, why="database or disk is full")

    monkeypatch.setattr(Writer, "add_utterances", refusing)
    session, _ = listen(home, TALK)
    assert [one.text for one in session.unsaved] == TALK


def test_another_program_may_use_the_store_while_listening(home: Path) -> None:
    """A second process reads and holds a write for a while: the session waits and goes on."""
    done = threading.Event()

    def other() -> None:
        while not (home / "narrator.db").exists():
            time.sleep(0.01)
        time.sleep(0.4)
        connection = sqlite3.connect(home / "narrator.db", isolation_level=None)
        connection.execute("BEGIN IMMEDIATE")
        time.sleep(0.8)
        connection.execute("COMMIT")
        connection.close()
        done.set()

    thread = threading.Thread(target=other)
    thread.start()
    _, (kept,) = listen(home, TALK)
    thread.join()
    assert done.is_set()
    assert [u.text for u in facts(home, kept).utterances] == TALK
    assert facts(home, kept).gaps == ()


def test_two_cannot_listen_in_one_home(home: Path) -> None:
    home.mkdir()
    with FileLock(home / "listening.lock"):
        code = (
            "import sys; from narrator.cli import main; sys.argv = ['narrator', 'listen', '--plain']; main()"
        )
        second = subprocess.run(
            [sys.executable, "-c", code], env=os.environ | {"NARRATOR_HOME": str(home)},
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
    assert second.returncode == 2
    assert "E604" in second.stderr
    assert not (home / "sound").exists()


def test_a_clock_set_back_changes_no_order_and_no_length(home: Path) -> None:
    walls = iter([f"2031-03-04T{hour:02}:00:00+01:00" for hour in range(23, 0, -1)])
    options = LiveOptions(segmenter=segmenter, wall=lambda: next(walls))
    _, (kept,) = listen(home, TALK, options=options)
    one = facts(home, kept)
    starts = [u.start for u in one.utterances]
    assert starts == sorted(starts)
    assert one.session.audio_seconds == pytest.approx(5.0, abs=0.1)
    assert [u.text for u in one.utterances] == TALK
    anchors = [row for row in read_index(sound_folder(home, kept)) if "open" in row]
    assert anchors[0]["wall"] > current_record_end(home, kept)
    assert [row["steady"] for row in anchors] == sorted(row["steady"] for row in anchors)


def current_record_end(home: Path, session: str) -> str:
    connection = sqlite3.connect(home / "narrator.db")
    (ended,) = connection.execute("SELECT ended FROM endings WHERE session = ?", [session]).fetchone()
    connection.close()
    return str(ended)


def test_a_microphone_pulled_out_and_plugged_in_goes_on_in_the_same_session(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    system = FakePortAudio(("Bench USB mic", 1, 48_000))
    monkeypatch.setitem(sys.modules, "sounddevice", system.module())
    home.mkdir()
    told: list[Callable[[str, bool], None]] = []
    options = CaptureOptions(patience=0.3, retry=0.05, poll=0.02)
    with Writer(home) as writer:

        def tell(text: str, bad: bool) -> None:
            told[0](text, bad)

        capture = Capture(portaudio.PortAudio(), options=options, told=tell)
        live = LiveSession(
            writer, capture, lambda t: TendedDecoder(lambda: ByLength(TALK), told=t),  # type: ignore[arg-type]
            options=LiveOptions(segmenter=segmenter),
        )  # fmt: skip
        told.append(live.lost)
        kept: list[str] = []
        thread = threading.Thread(target=lambda: kept.extend(live.run(every=0.01)))
        thread.start()
        system.open_stream.run(_talk(0), speed=4)
        system.pull("Bench USB mic")
        _until(lambda: live.view().state == "trouble")
        time.sleep(0.5)
        system.plug("Bench USB mic", 1, 48_000)
        _until(lambda: len(system.streams) == 2)
        system.open_stream.run(_talk(1), speed=4)
        live.stop()
        thread.join(20)
    one = facts(home, kept[0])
    assert [u.text for u in one.utterances] == TALK[:2]
    (gap,) = one.gaps
    assert gap.reason == LOST
    assert gap.end - gap.start > 0.6
    folder = sound_folder(home, kept[0])
    inside = read_samples(folder, round(gap.start * SAMPLE_RATE), round(gap.end * SAMPLE_RATE))
    assert not inside.any()
    assert [row.reason for row in current_record(home, kept[0]).gaps] == [LOST]


def _talk(line: int) -> np.ndarray:
    """A line's sound at 48 kHz, long enough for its pause."""
    wave = sound((0.5, False), (0.4 + 0.1 * line, True), (1.1, False))
    return np.repeat(wave, 3).astype(np.float32)


def _until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 10
    while not true():
        assert time.monotonic() < deadline, "it did not happen"
        time.sleep(0.01)
