from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result

from narrator.cli import cli, hearing
from narrator.errors import NarratorError
from narrator.hearing.recognizer import SegmentRecognizer
from narrator.hearing.segmenter import Segmenter
from narrator.utterances import parse_lines
from tests.hearing.fakes import LoudIsSpeech, NamingDecoder, sound


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> object:
    def fake(*_args: object, **_: object) -> SegmentRecognizer:
        return SegmentRecognizer(NamingDecoder(["loose nut", "tight"]), Segmenter(None, LoudIsSpeech()))

    monkeypatch.setattr(hearing, "open_recognizer", fake)
    return lambda *args: CliRunner().invoke(
        cli, ["hear", *map(str, args)], env={"NARRATOR_HOME": str(tmp_path)}
    )


def recording(path: Path, *parts: tuple[float, bool]) -> Path:
    soundfile.write(path, sound(*parts), 16_000)
    return path


SPOKEN = ((1.0, False), (1.0, True), (1.5, False), (1.0, True), (0.5, False))


def test_utterances_come_as_lines_that_can_be_read_back(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    result: Result = run(recording(tmp_path / "a.wav", *SPOKEN))
    assert result.exit_code == 0
    one, two = parse_lines(result.stdout.splitlines())
    assert (one.text, two.text, one.engine, one.timing) == ("loose nut", "tight", "fake", "aligned")
    assert result.stderr == ""


def test_silence_is_an_honest_empty_result(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    soundfile.write(tmp_path / "a.wav", np.zeros(50_000, np.float32), 16_000)
    result: Result = run(tmp_path / "a.wav")
    assert (result.exit_code, result.stdout) == (0, "")
    assert "No speech was found" in result.stderr


def test_a_truncated_file_prints_what_was_there_then_fails(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    path = recording(tmp_path / "a.wav", *SPOKEN)
    path.write_bytes(path.read_bytes()[: 44 + 2 * 40_000])
    result: Result = run(path)
    assert isinstance(result.exception, NarratorError)
    assert result.exception.code == "E104"
    assert json.loads(result.stdout)["text"] == "loose nut"


def test_out_writes_a_file_but_never_over_the_sound(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    path = recording(tmp_path / "a.wav", *SPOKEN)
    before = path.read_bytes()
    result: Result = run(path, "--out", tmp_path / "b.jsonl")
    assert (result.exit_code, result.stdout) == (0, "")
    assert len((tmp_path / "b.jsonl").read_text().splitlines()) == 2
    full = Path("/dev/full")  # a disk without room, where the system has such a thing
    nowhere = (tmp_path / "none" / "b.jsonl", *([full] if full.exists() else []))
    for out, code in ((path, "E108"), *((one, "E107") for one in nowhere)):
        result = run(path, "--out", out)
        assert isinstance(result.exception, NarratorError)
        assert result.exception.code == code
    assert path.read_bytes() == before
