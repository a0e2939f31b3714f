"""``narrator sheet`` on records and utterances: what it prints, writes and refuses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result

from narrator.cli.sheet import command
from narrator.errors import NarratorError
from narrator.session import keep_session
from narrator.values import SAMPLE_RATE, AudioChunk, Utterance
from tests.sheet import golden


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "dray.record.json"
    path.write_text(golden.record().model_dump_json(indent=1), encoding="utf-8")
    return path


def run(*arguments: str, stdin: str | None = None) -> Result:
    return CliRunner().invoke(command, list(arguments), input=stdin, catch_exceptions=False)


def test_record_to_every_format(record: Path, tmp_path: Path) -> None:
    result = run(str(record), "--shop", "Example Shop", "--technician", "R. Invented")
    assert result.exit_code == 0
    assert "2013 Corvell Dray" in result.stdout
    assert "1 LEFT OVER" in result.stdout
    assert "Written" not in result.stdout
    folder = tmp_path / "sheet-out" / "dray"
    assert sorted(p.name for p in folder.iterdir()) == ["record.json", "sheet.html", "sheet.md", "sheet.pdf"]
    assert (folder / "record.json").read_bytes() == record.read_bytes() + b"\n"
    assert "Example Shop" in (folder / "sheet.html").read_text(encoding="utf-8")


def test_chosen_formats_and_paper(record: Path, tmp_path: Path) -> None:
    run(str(record), "--out", "there", "--format", "pdf,json", "--paper", "us-letter")
    assert sorted(p.name for p in (tmp_path / "there").iterdir()) == ["record.json", "sheet.pdf"]
    assert b"612 792" in (tmp_path / "there" / "sheet.pdf").read_bytes()


def test_utterances_from_standard_input(tmp_path: Path) -> None:
    line = '{"id": 1, "start": 0, "end": 2, "text": "took two bolts out of the <b>pump</b>"}\n'
    result = run("-", "--format", "html", stdin=line)
    assert result.exit_code == 0
    page = (tmp_path / "sheet-out" / "stdin" / "sheet.html").read_text(encoding="utf-8")
    assert "pump" in page
    assert "<b>" not in page


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["missing.json"], "E101"),
        (["missing.jsonl"], "E101"),
        (["missing.wav"], "E101"),
        (["empty.jsonl"], "E402"),
        (["wrong.json"], "E522"),
        (["dray.record.json", "--format", "docx"], "E523"),
        (["dray.record.json", "--out", "empty.jsonl/under"], "E520"),
        (["nosuchsession"], "E307"),
    ],
)
def test_refusals(arguments: list[str], code: str, record: Path, tmp_path: Path) -> None:
    (tmp_path / "empty.jsonl").write_text("\n", encoding="utf-8")
    (tmp_path / "wrong.json").write_text('{"contract": 9}', encoding="utf-8")
    with pytest.raises(NarratorError) as caught:
        run(*arguments)
    assert caught.value.code == code


def test_a_failed_write_leaves_the_old_file(
    record: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(str(record), "--out", "there", "--format", "md")
    kept = (tmp_path / "there" / "sheet.md").read_bytes()

    def full(self: Path, content: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(NarratorError, match="E520"):
        run(str(record), "--out", "there", "--format", "md")
    assert (tmp_path / "there" / "sheet.md").read_bytes() == kept


class Recorded:
    """A stand-in that needs no model: one utterance for each second of sound."""

    name = "recorded"
    unheard = 0.0

    def __init__(self) -> None:
        self.count = 0

    def accept(self, chunk: AudioChunk) -> list[Utterance]:
        end = (chunk.first + len(chunk.samples)) / SAMPLE_RATE
        if end < self.count + 1:
            return []
        self.count += 1
        said = f"took {self.count + 1} bolts out of the pump"
        return [Utterance(self.count, self.count - 1.0, float(self.count), said)]

    def finish(self) -> list[Utterance]:
        return []


@pytest.fixture
def sound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    recognizer = pytest.importorskip("narrator.hearing.recognizer")
    monkeypatch.setattr(recognizer, "open_recognizer", lambda *_: Recorded())
    path = tmp_path / "bay two.wav"
    soundfile.write(path, np.zeros(3 * SAMPLE_RATE, np.int16), SAMPLE_RATE)
    return path


def test_sound_is_heard(sound: Path, tmp_path: Path) -> None:
    result = run(str(sound), "--format", "md")
    assert result.exit_code == 0
    assert "Took 4 bolts out of the pump" in result.stdout
    assert (tmp_path / "sheet-out" / "bay-two" / "sheet.md").is_file()


def test_sound_that_breaks_off_still_gives_its_sheet(sound: Path, tmp_path: Path) -> None:
    content = sound.read_bytes()
    sound.write_bytes(content[: len(content) * 2 // 3])
    with pytest.raises(NarratorError) as caught:
        run(str(sound), "--format", "md")
    assert caught.value.code == "E104"
    text = (tmp_path / "sheet-out" / "bay-two" / "sheet.md").read_text(encoding="utf-8")
    assert "Took 2 bolts out of the pump" in text
    assert "Sound: " in text


def test_kept_session(home: Path) -> None:
    said = [Utterance(1, 0.0, 2.0, "twelve point four volts at the battery")]
    ident = keep_session(home / "home", said, started="2026-11-25T10:00:00")
    result = run("last", "--format", "json")
    assert ident in result.stdout
    assert "2026-11-25" in result.stdout
    assert (home / "sheet-out" / ident / "record.json").is_file()
