"""A session from sound: on the disk before it is heard, committed before the next is heard."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from narrator.errors import NarratorError
from narrator.session import current_record, derive, end_broken_off, keep_session, keep_sound, understand
from narrator.settings import Settings
from narrator.sheet.view import SheetMeta, view
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.store.rows import NewSession, Strike
from narrator.transcript import to_markdown
from narrator.values import SAMPLE_RATE, AudioChunk, Correction, Gap, Utterance

SAID = ("the ground strap is corroded", "two ten mil bolts come off", "new strap goes on")


class Parrot:
    """A recognizer that hears the next of ``SAID`` at every whole second of sound."""

    name = "parrot"
    unheard = 0.0

    def __init__(self) -> None:
        self._heard = 0

    def accept(self, chunk: AudioChunk) -> list[Utterance]:
        until = (chunk.first + len(chunk.samples)) // SAMPLE_RATE
        found = []
        while self._heard < min(until, len(SAID)):
            self._heard += 1
            start = self._heard - 0.8
            found.append(Utterance(self._heard, start, start + 0.5, SAID[self._heard - 1], engine=self.name))
        return found

    def finish(self) -> list[Utterance]:
        return []


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Settings:
    monkeypatch.setattr("narrator.hearing.recognizer.open_recognizer", lambda settings, engine: Parrot())
    return Settings(home=tmp_path / "home")


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    path = tmp_path / "Job 7.WAV"
    soundfile.write(path, np.zeros(int(3.5 * SAMPLE_RATE), np.float32), SAMPLE_RATE)
    return path


def test_sound_is_kept_and_heard(settings: Settings, sound: Path) -> None:
    reached: list[float] = []
    kept = keep_sound(settings, sound, vehicle="2009 Ardenna Volo", progress=reached.append)
    assert kept.broken is None
    with Reader(settings.home) as reader:
        facts = reader.facts(kept.session)
    assert [one.text for one in facts.utterances] == list(SAID)
    row = facts.session
    assert (row.source, row.engine, row.state, row.vehicle) == (
        "Job 7.WAV",
        "parrot",
        "complete",
        "2009 Ardenna Volo",
    )
    assert row.audio_seconds == pytest.approx(3.5, abs=0.01) == reached[-1]
    assert [one.file for one in facts.sounds] == ["sound.wav"]
    assert (sound_folder(settings.home, kept.session) / "sound.wav").read_bytes() == sound.read_bytes()
    assert [u.text for u in current_record(settings.home, kept.session).utterances] == list(SAID)


def test_each_utterance_is_committed_before_the_next_is_heard(settings: Settings, sound: Path) -> None:
    seen: list[int] = []

    def look(seconds: float) -> None:
        with Reader(settings.home) as reader:
            (row,) = reader.sessions()
            assert (sound_folder(settings.home, row.id) / "sound.wav").stat().st_size == sound.stat().st_size
            seen.append(row.utterances)

    keep_sound(settings, sound, progress=look)
    assert set(seen) == {0, 1, 2, 3}


def test_a_file_that_breaks_off_keeps_what_was_heard(settings: Settings, sound: Path) -> None:
    content = sound.read_bytes()
    sound.write_bytes(content[: len(content) * 2 // 3])
    kept = keep_sound(settings, sound)
    assert kept.broken is not None and kept.broken.code == "E104"
    with Reader(settings.home) as reader:
        facts = reader.facts(kept.session)
    assert facts.session.state == "interrupted"
    assert [one.text for one in facts.utterances] == list(SAID[:2])
    looks = [look for look in current_record(settings.home, kept.session).looks if look.kind == "sound"]
    assert [(look.utterance, look.reason) for look in looks] == [(2, kept.broken.message)]


def test_being_stopped_keeps_what_was_heard(settings: Settings, sound: Path) -> None:
    def stop(seconds: float) -> None:
        if seconds > 1.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        keep_sound(settings, sound, progress=stop)
    with Reader(settings.home) as reader:
        (row,) = reader.sessions()
        assert (row.state, row.utterances) == ("interrupted", 1)
    assert [u.text for u in current_record(settings.home, row.id).utterances] == [SAID[0]]


def test_what_is_no_sound_keeps_nothing(settings: Settings, tmp_path: Path) -> None:
    (tmp_path / "x.wav").write_bytes(b"nothing that sounds")
    with pytest.raises(NarratorError, match="E103"):
        keep_sound(settings, tmp_path / "x.wav")
    assert not settings.home.exists()


def test_a_copy_that_fails_keeps_nothing(
    settings: Settings, sound: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch, pytest.raises(NarratorError, match="E308"):
        patch.setattr("narrator.session.shutil.copyfileobj", full)
        keep_sound(settings, sound)
    with Reader(settings.home) as reader:
        assert reader.sessions() == []
    assert list((settings.home / "sound").iterdir()) == []


def test_a_file_whose_hearing_was_killed_is_ended_later(settings: Settings, sound: Path) -> None:
    seen: list[str] = []

    def killed(seconds: float) -> None:
        with Writer(settings.home) as writer:
            assert end_broken_off(writer) == [], "it is at work"
            if seconds > 1.5 and not seen:
                (row,) = Reader(settings.home).sessions()
                seen.append(row.id)
                made = NewSession("2031-03-04T09:00:00+01:00", "killed.wav", "parrot")
                for heard in (1, 0):  # as a kill leaves them: sound, and what was heard; or only sound
                    ident = writer.start_session(made)
                    (sound_folder(settings.home, ident)).mkdir()
                    (sound_folder(settings.home, ident) / "sound.wav").write_bytes(b"RIFF")
                    writer.add_utterances(ident, [Utterance(1, 0.5, 1.5, SAID[0])][:heard])
                    seen.append(ident)
                assert end_broken_off(writer) == [seen[1]]

    kept = keep_sound(settings, sound, progress=killed)
    assert seen[0] == kept.session
    with Reader(settings.home) as reader:
        states = {row.id: row.state for row in reader.sessions()}
        assert states == {kept.session: "complete", seen[1]: "interrupted"}
        (mark,) = reader.facts(seen[1]).marks
    assert (mark.at, mark.kind) == (1.5, "sound")
    assert [look.reason for look in current_record(settings.home, seen[1]).looks]
    assert [path.name for path in sound_folder(settings.home, kept.session).iterdir()] == ["sound.wav"]
    assert not sound_folder(settings.home, seen[2]).exists()


def test_where_nothing_can_be_written_the_record_is_still_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ident = keep_session(tmp_path, [Utterance(1, 0.0, 1.0, SAID[0])])
    kept = current_record(tmp_path, ident)

    def refused(home: Path) -> Writer:
        raise NarratorError("E308", path=home, why="Read-only file system")

    monkeypatch.setattr("narrator.session.Writer", refused)
    monkeypatch.setattr("narrator.session.rules_version", lambda: "newer")
    assert current_record(tmp_path, ident) == kept


def test_gaps_corrections_and_strikes_reach_the_record(tmp_path: Path) -> None:
    said = [Utterance(n, float(n), n + 0.5, text) for n, text in enumerate(SAID, start=4)]
    ident = keep_session(tmp_path, said, gaps=[Gap(1.0, 2.0, "unplugged")])
    with Writer(tmp_path) as writer:
        writer.add_correction(
            ident, Correction(5, "two 12 mm nuts come off", "Ana", "2031-01-01T00:00:00+00:00")
        )
        writer.add_strike(ident, Strike(4, "Ana", "2031-01-01T00:00:00+00:00"))
        derive(writer, ident)
    record = current_record(tmp_path, ident)
    assert [(u.id, u.text, u.corrected, u.struck) for u in record.utterances] == [
        (4, SAID[0], None, True), (5, SAID[1], "two 12 mm nuts come off", False), (6, SAID[2], None, False),
    ]  # fmt: skip
    assert [(g.start, g.end, g.reason) for g in record.gaps] == [(1.0, 2.0, "unplugged")]
    assert "nuts" in record.utterances[1].clean


def test_a_correction_made_while_deriving_is_not_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ident = keep_session(tmp_path, [Utterance(1, 0.0, 1.0, SAID[0])])
    calls: list[int] = []
    with Writer(tmp_path) as writer:

        def meanwhile(facts):  # type: ignore[no-untyped-def]
            if not calls:
                writer.add_correction(ident, Correction(1, "read anew", "Ana", "2031-01-01T00:00:00+00:00"))
            calls.append(1)
            return understand(facts)

        monkeypatch.setattr("narrator.session.understand", meanwhile)
        derive(writer, ident)
    assert len(calls) == 2
    assert current_record(tmp_path, ident).utterances[0].corrected == "read anew"


def test_an_added_line_is_understood_and_stays_marked(tmp_path: Path) -> None:
    said = [Utterance(n, float(n), n + 0.5, text) for n, text in enumerate(SAID, start=1)]
    ident = keep_session(tmp_path, said)
    before = current_record(tmp_path, ident)
    assert [(f.removed, f.installed) for f in before.fasteners] == [(2, 0)]
    with Writer(tmp_path) as writer:
        number = writer.add_line(
            ident, 3, "two ten mil bolts back on", who="Ana", when="2031-03-04T09:00:00+01:00"
        )
        record = current_record(tmp_path, ident)
        assert [(f.removed, f.installed) for f in record.fasteners] == [(2, 2)]
        assert [(row.id, row.added) for row in record.utterances] == [
            (1, False),
            (2, False),
            (3, False),
            (4, True),
        ]
        writer.add_correction(
            ident, Correction(number, "one ten mil bolt back on", "Ben", "2031-03-04T10:00:00+01:00")
        )
        record = current_record(tmp_path, ident)
        assert [(f.removed, f.installed) for f in record.fasteners] == [(2, 1)] and record.utterances[3].added
        words = [*view(record, SheetMeta()).texts()]
        assert "added by a person, not said, corrected by a person" in words
        assert "Added by a person, not said: “two ten mil bolts back on”" in words
        assert "3 lines in 00:03, 1 line added" in words
        assert "back on (added, not said)" in to_markdown(record, "Job")
        writer.add_strike(ident, Strike(number, "Ana", "2031-03-04T11:00:00+01:00"))
    record = current_record(tmp_path, ident)
    assert [(f.removed, f.installed) for f in record.fasteners] == [(2, 0)]
    assert record.utterances[3].added and record.utterances[3].struck
    assert "bolt back on" not in " ".join(view(record, SheetMeta()).texts())
