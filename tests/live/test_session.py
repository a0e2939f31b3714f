from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from narrator.errors import NarratorError
from narrator.hearing.archive import Packed, read_samples, tape_end
from narrator.hearing.segmenter import Segment
from narrator.hearing.tape import Sealed
from narrator.live import archiving, deeds
from narrator.live.session import LiveOptions
from narrator.live.view import Understanding, View
from narrator.session import current_record
from narrator.store import Reader
from narrator.store.erase import sound_folder
from narrator.values import SAMPLE_RATE, Word
from tests.live.helpers import WALL, ByLength, facts, listen, segmenter

TALK = ["the ground strap is loose", "two ten mil bolts come off", "battery is at twelve point four volts"]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


def test_what_is_said_is_kept_with_its_sound_and_its_record(home: Path, tmp_path: Path) -> None:
    _, (kept,) = listen(home, TALK)
    one = facts(home, kept)
    assert [u.text for u in one.utterances] == TALK
    assert (one.session.state, one.session.gaps, one.session.engine) == ("complete", 0, "scripted")
    played, _ = soundfile.read(tmp_path / "talk.wav", dtype="float32")
    assert one.session.audio_seconds == pytest.approx(len(played) / SAMPLE_RATE)
    folder = sound_folder(home, kept)
    assert np.array_equal(read_samples(folder, 0, tape_end(folder)), played)
    assert {path.suffix for path in folder.iterdir()} == {".flac", ".jsonl"}
    assert [s.file for s in one.sounds] == sorted(p.name for p in folder.glob("*.flac"))
    record = current_record(home, kept)
    assert [(f.kind, f.removed) for f in record.fasteners] == [("bolt", 2)]


class Spy(ByLength):
    """Looks at the disk and the store at the moment at which it is asked to hear."""

    def __init__(self, lines: list[str], home: Path) -> None:
        super().__init__(lines)
        self.home = home
        self.behind: list[float] = []

    def decode(self, segment: Segment) -> list[Word]:
        with Reader(self.home) as reader:
            (row,) = reader.sessions()
        end = tape_end(sound_folder(self.home, row.id)) / SAMPLE_RATE
        self.behind.append(segment.end - end)
        return super().decode(segment)


def test_sound_is_on_the_tape_before_it_is_heard(home: Path) -> None:
    spy = Spy(TALK, home)
    listen(home, TALK, engine=lambda: spy)
    assert spy.behind
    assert max(spy.behind) <= 0.0


def test_commands_are_done_and_never_narration(home: Path) -> None:
    said = [
        "the ground strap is loose",
        "battery is at twelve point four volts",
        "the strap looks tired",
        "#correct twelve point six volts",
        "#mark odd noise",
        "wrong thing said",
        "#strike_last",
        "#yes",
        "#open_fasteners / two ten mil bolts come off",
        "#last_reading",
    ]
    session, (kept,) = listen(home, said)
    one = facts(home, kept)
    assert [u.text for u in one.utterances] == said, "everything heard stays a fact"
    record = current_record(home, kept)
    assert [
        (row.text if row.corrected is None else row.corrected, row.struck) for row in record.utterances
    ] == [
        ("the ground strap is loose", False),
        ("battery is at twelve point six volts", False),
        ("the strap looks tired", False),
        ("wrong thing said", True),
        ("two ten mil bolts come off", False),
    ]
    assert [m.value for m in record.measurements] == [12.6]
    assert [(m.kind, m.text) for m in one.marks] == [("spoken", "odd noise")]
    assert "Strike 'wrong thing said'? Say yes or no." in session.log
    assert any("voltage 12.6 volts" in line for line in session.log)
    assert any("2 bolts 10 mm" in line for line in session.log)


def test_no_leaves_it_and_the_question_is_shown(home: Path) -> None:
    _, (kept,) = listen(
        home, ["a loose strap", "#strike_last", "#no", "#strike_last", "another remark", "#yes"]
    )
    record = current_record(home, kept)
    assert [(row.text, row.struck) for row in record.utterances] == [
        ("a loose strap", True),  # what was asked about, whatever was said meanwhile
        ("another remark", False),
    ]


def test_a_yes_that_comes_too_late_strikes_nothing(home: Path) -> None:
    session, (kept,) = listen(home, ["a loose strap", "#strike_last", "#yes"], pause=21.0, speed=30.0)
    assert "There is nothing to answer." in session.log
    assert [(row.text, row.struck) for row in current_record(home, kept).utterances] == [
        ("a loose strap", False)
    ]


def test_pause_keeps_neither_sound_nor_text(home: Path) -> None:
    said = ["before the pause", "#pause", "private talk", "more of it", "#go_on", "after the pause"]
    _, (kept,) = listen(home, said, pause=1.6, speed=4.0)
    one = facts(home, kept)
    assert [u.text for u in one.utterances if not u.text.startswith("#")] == [
        "before the pause",
        "after the pause",
    ]
    (gap,) = one.gaps
    assert gap.reason == "paused"
    taped = read_samples(sound_folder(home, kept), 0, 99 * SAMPLE_RATE)
    within = taped[round(gap.start * SAMPLE_RATE) + 1600 : round(gap.end * SAMPLE_RATE) - 1600]
    assert not within.any()
    assert len(within) > 3 * SAMPLE_RATE


def test_jobs_follow_each_other_without_losing_sound(home: Path, tmp_path: Path) -> None:
    said = [
        "first job talk",
        "#begin_job green loader",
        "second job talk",
        "#end_job",
        "#yes",
        "third job talk",
    ]
    _, kept = listen(home, said, pause=1.6, speed=4.0)
    texts = [[u.text for u in facts(home, one).utterances if not u.text.startswith("#")] for one in kept]
    assert texts == [["first job talk"], ["second job talk"], ["third job talk"]]
    assert [facts(home, one).session.vehicle for one in kept] == [None, "green loader", None]
    whole, _ = soundfile.read(tmp_path / "talk.wav", dtype="float32")
    folders = [sound_folder(home, one) for one in kept]
    taped = np.concatenate([read_samples(folder, 0, tape_end(folder)) for folder in folders])
    assert np.array_equal(taped, whole)


def test_the_first_job_begun_by_voice_need_not_wait_for_what_reads_its_vehicle(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[int] = []

    def reading(said: str) -> str:
        read.append(len(said))
        return said

    monkeypatch.setattr(deeds, "vehicle_as_written", reading)
    listen(home, ["first job talk", "#begin_job green loader", "second job talk"], pause=1.6, speed=4.0)
    assert read == [0, len("green loader")]


class Thorough(ByLength):
    """Takes longer over a piece than a file played as fast as can be takes over all that follows."""

    def decode(self, segment: Segment) -> list[Word]:
        time.sleep(0.3)
        return super().decode(segment)


def test_a_file_played_as_fast_as_can_be_is_parted_where_the_command_was_said(home: Path) -> None:
    said = ["first job talk", "#begin_job green loader", "second job talk", "#pause", "private talk"]
    said += ["#go_on", "more of the second", "#end_job", "#yes", "third job talk"]
    options = LiveOptions(segmenter=segmenter, wall=lambda: WALL, keep_up=False)
    _, kept = listen(home, said, pause=2.0, speed=0.0, engine=lambda: Thorough(said), options=options)
    texts = [[u.text for u in facts(home, one).utterances if not u.text.startswith("#")] for one in kept]
    assert texts == [["first job talk"], ["second job talk", "more of the second"], ["third job talk"]]


def test_a_job_in_which_nothing_was_said_is_not_kept(home: Path) -> None:
    _, kept = listen(home, ["a loose strap", "#end_job", "#yes"], pause=2.0, speed=4.0)
    assert len(kept) == 1
    with Reader(home) as reader:
        assert [row.id for row in reader.sessions()] == kept


def test_a_job_that_is_not_kept_goes_after_its_sound_was_packed(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pack = archiving.pack

    def slowly(folder: Path, segment: Sealed) -> Packed:
        time.sleep(0.5)
        return pack(folder, segment)

    monkeypatch.setattr(archiving, "pack", slowly)
    session, kept = listen(home, ["#begin_job green loader", "a loose strap"], pause=2.0, speed=4.0)
    assert len(kept) == 1
    assert [line for line in session.log if "unpacked" in line or "cannot" in line] == []
    assert [folder.name for folder in (home / "sound").iterdir()] == kept


class Fragile(ByLength):
    lives = 3

    def decode(self, segment: Segment) -> list[Word]:
        Fragile.lives -= 1
        if Fragile.lives % 3 == 0:
            raise NarratorError("E606", engine="fragile", why="it does that")
        return super().decode(segment)


def test_an_engine_that_fails_is_replaced_and_the_session_goes_on(home: Path) -> None:
    session, (kept,) = listen(home, TALK * 2, engine=lambda: Fragile(TALK * 2))
    assert [u.text for u in facts(home, kept).utterances] == TALK * 2
    assert any("it does that" in line for line in session.log)


def test_no_engine_no_session(home: Path) -> None:
    def none() -> ByLength:
        raise NarratorError("E606", engine="none", why="not there")

    with pytest.raises(NarratorError):
        listen(home, TALK, engine=none)
    with Reader(home) as reader:
        assert reader.sessions() == []


def test_our_own_sounds_do_not_come_back_as_text(home: Path) -> None:
    played: list[np.ndarray] = []
    _, (kept,) = listen(home, TALK, played=played)
    assert len(played) >= 3
    index = (sound_folder(home, kept) / "tape.jsonl").read_text()
    assert index.count('"own"') >= 2


def test_the_view_shows_what_was_understood(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from narrator.live import session as module  # noqa: PLC0415

    views: list[View] = []
    run = module.LiveSession.run
    monkeypatch.setattr(
        module.LiveSession, "run", lambda self, tick=None, every=0.01: run(self, views.append, every)
    )
    listen(home, TALK, speed=3.0)
    assert any(view.state == "listening" and view.kept for view in views)
    assert any(view.partial for view in views)
    seen = [view.understanding for view in views if view.understanding.lines]
    assert seen[-1].off == ("2 bolts 10 mm",)
    assert views[-1].utterances == 3


def test_a_replay_that_is_cut_keeps_what_was_there(home: Path, tmp_path: Path) -> None:
    from narrator.hearing import source  # noqa: PLC0415

    original = source.FileSource._complain

    def complain(self: source.FileSource, read: int, failure: Exception | None) -> None:
        raise NarratorError("E105", path=self.path, got=1.0, why="torn")

    source.FileSource._complain = complain  # type: ignore[method-assign]
    try:
        with pytest.raises(NarratorError) as caught:
            listen(home, TALK)
    finally:
        source.FileSource._complain = original  # type: ignore[method-assign]
    assert caught.value.code == "E105"
    with Reader(home) as reader:
        (row,) = reader.sessions()
    assert (row.state, row.utterances) == ("complete", 3)


def test_understanding_may_be_left_for_later(home: Path) -> None:
    from tests.live.helpers import WALL, segmenter  # noqa: PLC0415

    _, (kept,) = listen(home, TALK, options=LiveOptions(segmenter=segmenter, wall=lambda: WALL, show=False))
    assert len(current_record(home, kept).utterances) == 3


class Slow:
    """Never understands anything in time."""

    def prepare(self) -> None:
        pass

    def show(self, session: str, upto: int) -> Understanding:
        raise NarratorError("E606", engine="understanding", why="it is slow")

    def answer(self, session: str, name: str, help_text: str) -> str:
        return ""

    def close(self) -> None:
        pass


def test_what_was_said_is_shown_as_heard_until_it_is_understood(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("narrator.live.brain.Here", lambda home: Slow())
    session, _ = listen(home, ["a loose strap", "#mark here", "two bolts come off"])
    assert session.view().understanding.lines == ("a loose strap", "two bolts come off")
