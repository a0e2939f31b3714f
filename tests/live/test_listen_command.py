"""``narrator listen`` itself, with a scripted engine in its place."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from narrator.cli import listening
from narrator.cli.sessions import command as sessions_command
from narrator.errors import NarratorError
from narrator.hearing.apart import TendedDecoder
from narrator.hearing.tape import Tape
from narrator.live import recover, session
from narrator.live.understander import Here
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.store.rows import NewSession
from narrator.values import AudioChunk
from tests.hearing.fakes import sound
from tests.live.helpers import ByLength, recording, segmenter

TALK = ["the ground strap is loose", "attention please mark this rattle", "two ten mil bolts come off"]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(
        listening,
        "_decoders",
        lambda settings, engine: lambda told: TendedDecoder(lambda: ByLength(TALK), told=told),
    )
    # The other processes have tests of their own; loading them each time takes long.
    monkeypatch.setattr(listening, "_command_ear", lambda settings, commands: None)
    monkeypatch.setattr(listening, "_early", lambda settings, engine: None)
    monkeypatch.setattr(listening, "Apart", Here)
    options = session.LiveOptions
    monkeypatch.setattr(listening, "LiveOptions", lambda **given: options(segmenter=segmenter, **given))
    again = recover.recover_sessions
    monkeypatch.setattr(
        listening, "recover_sessions",
        lambda writer, decoder, **given: again(writer, decoder, segmenter=segmenter, **given),
    )  # fmt: skip
    return tmp_path / "home"


def listen(tmp_path: Path, *options: str) -> Result:
    path = recording(tmp_path / "talk.wav", len(TALK))
    return CliRunner().invoke(
        listening.command,
        ["--source", str(path), "--speed", "8", "--plain", *options],
        catch_exceptions=False,
    )


def rows() -> list[dict[str, object]]:
    found: list[dict[str, object]] = json.loads(CliRunner().invoke(sessions_command, ["--json"]).stdout)
    return found


def test_it_prints_what_was_kept_and_says_that_it_records(home: Path, tmp_path: Path) -> None:
    result = listen(tmp_path, "--vehicle", "green loader")
    (row,) = rows()
    assert result.stdout.split() == [row["id"]]
    assert "Recording from talk.wav" in result.stderr
    assert "Nothing leaves this machine" in result.stderr
    assert "Marked." in result.stderr
    assert (row["utterances"], row["gaps"], row["state"], row["vehicle"]) == (
        3,
        0,
        "complete",
        "green loader",
    )
    assert row["audio_seconds"] == pytest.approx(5.0, abs=0.01)


def broken(home: Path, tmp_path: Path, blocks: int) -> str:
    """A session as a crash leaves it: sound on the tape, nothing heard."""
    with Writer(home) as writer:
        ident = writer.start_session(NewSession("2031-03-04T09:00:00+01:00", "Bench USB mic", "scripted"))
        tape = Tape(sound_folder(home, ident), wall=lambda: "2031-03-04T09:00:00+01:00")
        wave = sound((0.5, False), (0.4, True), (1.0, False), (0.6, True), (1.0, False))
        for number in range(blocks):
            tape.write(AudioChunk(wave[number * 800 : number * 800 + 800], number * 800))
        tape.close()
    return ident


def test_the_next_start_recovers_hears_the_rest_and_says_so(home: Path, tmp_path: Path) -> None:
    ident = broken(home, tmp_path, 70)
    (open_row,) = rows()
    assert (open_row["state"], open_row["audio_seconds"]) == ("broke off", 3.5)
    result = listen(tmp_path)
    assert f"Recovered session {ident}: 0:03 of sound" in result.stderr
    began = result.stderr.index(f"Session {ident} was broken off")
    assert began < result.stderr.index("Recovered session")
    assert "2 utterances heard now" in result.stderr
    by_id = {row["id"]: row for row in rows()}
    assert len(by_id) == 2
    assert (by_id[ident]["state"], by_id[ident]["utterances"]) == ("recovered", 2)
    with Reader(home) as reader:
        facts = reader.facts(ident)
    assert [one.text for one in facts.utterances] == [
        "the ground strap is loose",
        "two ten mil bolts come off",
    ]
    assert [one.file for one in facts.sounds] == ["000000000000.flac"]
    assert "Recovered" not in listen(tmp_path).stderr


def test_a_session_that_never_began_leaves_nothing(home: Path, tmp_path: Path) -> None:
    listen(tmp_path)
    orphan = home / "sound" / "000000000000"
    orphan.mkdir()
    (orphan / "tape.jsonl").touch()
    kept = home / "sound" / "111111111111"
    shutil.copytree(sound_folder(home, str(rows()[0]["id"])), kept)
    listen(tmp_path)
    assert not orphan.exists()
    assert kept.exists(), "sound is never removed, whosever it is"


def test_old_sound_is_deleted_when_the_shop_wants_it(home: Path, tmp_path: Path) -> None:
    ident = broken(home, tmp_path, 70)
    listen(tmp_path)
    assert sound_folder(home, ident).exists()
    (home / "settings.toml").write_text("keep_sound_days = 0\n")
    listen(tmp_path)
    assert sound_folder(home, ident).exists()


def test_a_broken_file_of_words_is_told_of_before_anything_is_recorded(home: Path, tmp_path: Path) -> None:
    home.mkdir()
    (home / "vocabulary.toml").write_text("[[word]]\nname")
    with pytest.raises(NarratorError) as caught:
        listen(tmp_path)
    assert caught.value.code == "E912"
    assert list(home.iterdir()) == [home / "vocabulary.toml"]


def test_an_engine_that_is_not_there_is_one_error_and_nothing_else(tmp_path: Path) -> None:
    path = recording(tmp_path / "talk.wav", 1)
    code = "import sys; from narrator.cli import main; sys.argv[0] = 'narrator'; main()"
    asked = [sys.executable, "-c", code, "listen", "--source", str(path), "--engine", "nonsense"]
    environment = os.environ | {"NARRATOR_HOME": str(tmp_path / "home")}
    done = subprocess.run(asked, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    first, *rest = done.stderr.splitlines()
    assert first.startswith("Recording from talk.wav")
    assert rest == [
        "E202: there is no engine called nonsense",
        "  Use one of: auto, moonshine, vosk, whisper.",
    ]


def test_room_for_minutes_is_not_told_as_hours(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for minutes, told in ((2.9, "0:02"), (59.0, "0:59"), (0.0, "0:00"), (600.5, "10:00")):
        monkeypatch.setattr(listening, "minutes_left", lambda folder, reserve, minutes=minutes: minutes)
        assert f"room for {told} hours of sound" in listen(tmp_path).stderr
