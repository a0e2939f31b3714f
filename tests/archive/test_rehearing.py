"""Kept sound is heard anew beside the store; spread over workers it gives the same bytes."""

from __future__ import annotations

import os
import pickle
import signal
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from numpy.typing import NDArray

from narrator.archive import rehearing
from narrator.archive.rehearing import Task, heard_anew, rehear
from narrator.archive.spread import Workers
from narrator.cli import cli
from narrator.errors import NarratorError
from narrator.hearing.recognizer import SegmentRecognizer
from narrator.session import keep_session
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.store.rows import Sound
from narrator.utterances import parse_lines
from narrator.values import AudioChunk, Utterance

SAMPLES = Path(__file__).parents[2] / "sample_sessions"


def test_a_coded_error_survives_the_way_from_a_worker() -> None:
    error = NarratorError("E823", session="abc")
    again = pickle.loads(pickle.dumps(error))
    assert (again.code, again.message, str(again)) == (error.code, error.message, str(error))


class Deaf(SegmentRecognizer):
    """Tells how many seconds came, as one utterance."""

    def __init__(self, decoder: object) -> None:
        self.blocks: list[AudioChunk] = []

    def accept(self, chunk: AudioChunk) -> Iterator[Utterance]:
        self.blocks.append(chunk)
        return iter(())

    def finish(self) -> Iterator[Utterance]:
        seconds = sum(len(block.samples) for block in self.blocks) / 16_000
        loud = sum(float(np.abs(block.samples).sum()) for block in self.blocks)
        yield Utterance(1, 0.0, seconds, f"The alternator, {seconds:.0f} {loud > 0}.")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    monkeypatch.setattr(rehearing, "SegmentRecognizer", Deaf)
    monkeypatch.setattr(rehearing, "_decoder", lambda engine: None)
    return tmp_path


def with_sound(home: Path, sound: NDArray[np.float32], rate: int) -> str:
    session = keep_session(home, [Utterance(1, 0.0, 2.0, "the alternator whines")])
    folder = sound_folder(home, session)
    folder.mkdir(parents=True)
    soundfile.write(folder / "sound.wav", sound, rate)
    with Writer(home) as writer:
        writer.add_sound(session, Sound("sound.wav", 0.0, ""))
    return session


def test_what_is_written_and_what_is_left(home: Path) -> None:
    session, silent = (
        with_sound(home, np.full(24_000, 0.1, np.float32), 8000),
        keep_session(home, [Utterance(1, 0.0, 2.0, "no sound")]),
    )
    with Writer(home) as writer:
        writer.add_line(session, 1, "it was not said", who="Ana", when="2031-03-04T09:00:00+01:00")
    with Reader(home) as reader:
        before = reader.facts(session)
    run = CliRunner().invoke(cli, ["rehear", "--out", str(home / "anew")])
    assert run.exit_code == 0, run.output
    assert run.stdout.split()[0] == session
    assert run.stdout.split()[2] == "66.7%", "a line that a person added was not heard before"
    assert "1 session(s) have no sound" in run.stderr
    said = list(parse_lines((home / "anew" / f"{session}.jsonl").read_text(encoding="utf-8").splitlines()))
    assert [one.text for one in said] == ["The alternator, 3 True."]
    assert '"clean":"' in (home / "anew" / f"{session}.json").read_text(encoding="utf-8")
    with Reader(home) as reader:
        assert reader.facts(session) == before
    again = CliRunner().invoke(cli, ["rehear", "--out", str(home / "anew")])
    assert (again.stdout, "1 are in" in again.stderr) == ("", True)
    wrong = CliRunner().invoke(cli, ["rehear", silent, "--out", str(home / "anew")])
    assert isinstance(wrong.exception, NarratorError)
    assert wrong.exception.code == "E823"


def test_a_tape_is_heard_with_our_own_sounds_silenced(home: Path) -> None:
    from narrator.hearing.tape import INDEX  # noqa: PLC0415

    session = keep_session(home, [])
    folder = sound_folder(home, session)
    folder.mkdir(parents=True)
    for first, seconds in ((0, 2), (5 * 16_000, 1)):
        soundfile.write(folder / f"{first:012}.flac", np.full(16_000 * seconds, 0.1), 16_000)
    (folder / INDEX).write_text('{"own": [0, 90000]}\n', encoding="utf-8")
    with Writer(home) as writer:
        writer.add_sound(session, Sound(f"{0:012}.flac", 0.0, ""))
    with Reader(home) as reader:
        heard = heard_anew(Task(reader.facts(session), home, None))
    assert "The alternator" in heard.utterances
    assert heard.differs is None


@pytest.mark.engine
def test_a_killed_worker_hears_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    monkeypatch.setenv("NARRATOR_SECOND_EAR", "false")  # quicker
    sound, rate = soundfile.read(SAMPLES / "brake_drag" / "sound.opus", dtype="float32", stop=24_000 * 24)
    sessions = [with_sound(tmp_path, sound[n * rate * 6 : n * rate * 6 + rate * 3], rate) for n in range(4)]
    alone = list(rehear(tmp_path, sessions, tmp_path / "alone", Workers()))
    assert any(one.utterances for one in alone)
    found = []
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None,
        scheduler_kwargs={"dashboard_address": "127.0.0.1:0"},
    ) as cluster:  # fmt: skip
        there = Workers(scheduler=cluster.scheduler_address)
        pids = [nanny.pid for nanny in cluster.workers.values()]
        for one in rehear(tmp_path, sessions, tmp_path / "spread", there):
            if not found:
                os.kill(pids[0], signal.SIGKILL)
            found.append(one)
    assert found == alone
    files = sorted((tmp_path / "alone").iterdir())
    assert [p.read_bytes() for p in files] == [(tmp_path / "spread" / p.name).read_bytes() for p in files]
