"""A lesson holds the ending back; what is exported for teaching does not tell who."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from narrator.cli import cli
from narrator.errors import NarratorError
from narrator.session import keep_session
from narrator.store.rows import Sound
from narrator.training.invented import fill
from narrator.training.lesson import case_sheet, clip
from narrator.training.parquet import connect, quoted
from narrator.training.replay import decisions
from narrator.training.teaching import Cleaner, teaching_record
from narrator.values import Utterance
from tests.training.example import LINES, example

SAID = ("the lights flicker", "i suspect the ground strap", "or the alternator", "i test the alternator",
        "fourteen volts", "so it's not the alternator", "yep it's the ground strap it's loose")  # fmt: skip


def test_each_decision_holds_back_what_follows() -> None:
    stops = decisions(example())
    assert [row.id for row in stops[0].lines] == [1, 2]
    assert stops[0].open == ("caliper", "hose")
    shown = 0
    for stop in stops:
        shown += len(stop.lines)
        assert stop.happened[0].id == shown + 1
    assert all({r.id for r in s.lines}.isdisjoint(r.id for r in s.happened) for s in stops)


def test_nothing_to_decide() -> None:
    assert decisions(example(hypotheses=[], tests=[])) == []


def test_the_case_sheet_keeps_the_ending_apart() -> None:
    case, ending = case_sheet(example(), "brake").split("\\newpage")
    assert LINES[12][2] in ending
    assert "Settled by the technician: hose" in ending
    assert "Settled" not in case
    assert case.index(LINES[2][2]) > case.index("What do you suspect?")


def test_the_sound_up_to_a_decision(tmp_path: Path) -> None:
    folder = tmp_path / "sound" / "s"
    folder.mkdir(parents=True)
    soundfile.write(folder / "sound.wav", np.zeros(8000 * 30), 8000)
    made = clip(tmp_path, "s", (Sound("sound.wav", 0.0, ""),), decisions(example())[0], tmp_path / "clips")
    assert made is not None
    assert soundfile.info(made).duration == pytest.approx(24.5)
    assert clip(tmp_path, "s", (), decisions(example())[0], tmp_path) is None


def test_replay_on_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    session = keep_session(tmp_path, [Utterance(n, n * 5.0, n * 5.0 + 3, t) for n, t in enumerate(SAID)])
    run = CliRunner().invoke(cli, ["replay", "last", "--who", "trainee"], input="the strap\n" * 60)
    assert run.exit_code == 0
    kept = json.loads((tmp_path / "lessons" / f"{session}.jsonl").read_text(encoding="utf-8"))
    assert kept["who"] == "trainee"
    assert kept["answers"]["1"]["What do you suspect?"] == "the strap"
    sheet = tmp_path / "case.md"
    assert CliRunner().invoke(cli, ["replay", session, "--sheet", str(sheet)]).exit_code == 0
    assert "Ending of case" in sheet.read_text(encoding="utf-8")


@pytest.mark.parametrize(("text", "clean"), [
    ("ana says number plate is k x four seven one h d she waits",
     "[person 1] says number plate is [plate] she waits"),
    ("Number plate is KX471HD she waits", "Number plate is [plate] she waits"),
    ("VIN ZY9PH2B4XBT107362 it says", "VIN [VIN] it says"),
    ("v i n is zulu yankee nine papa hotel two bravo four", "v i n is [VIN]"),
    ("call her on +44 1632 960 123", "call her on [phone]"),
    ("mail ana@shop.example please", "mail [mail] please"),
    ("the base plate is bent", "the base plate is bent"),
    ("banana skin on the floor", "banana skin on the floor"),
])  # fmt: skip
def test_what_tells_who_is_taken_out(text: str, clean: str) -> None:
    assert Cleaner(["Ana"]).text(text) == clean


def test_a_whole_record_is_cleaned() -> None:
    said = "Ana here vin is ZY9PH2B4XBT107362"
    record = example(vehicle={"make": "Ostrey", "vin": "ZY9PH2B4XBT107362", "vin_check": True})
    row = record.utterances[0].model_copy(
        update={"text": said, "clean": said, "entities": [{"type": "vin", "vin": "ZY9PH2B4XBT107362"}]}
    )
    whole = record.model_copy(update={"utterances": [row, *record.utterances[1:]]})
    kept = json.dumps(teaching_record(whole, ["ana"]))
    assert "ana" not in kept.lower().replace("caliper", "")
    assert "107362" not in kept
    assert "Ostrey" in kept


def test_exports(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "home"
    monkeypatch.setenv("NARRATOR_HOME", str(home))
    keep_session(home, [Utterance(1, 0, 1, "bob's plate is k x four seven", speaker="bob")])
    run = CliRunner()
    out = run.invoke(cli, ["export", "last", "--teaching", "--name", "carol"])
    assert "bob" not in out.stdout.lower()
    assert "[plate]" in out.stdout
    fill(home, 10)
    assert run.invoke(cli, ["export", "--all", "--parquet", str(tmp_path / "all")]).exit_code == 0
    assert (
        run.invoke(cli, ["export", "--all", "--teaching", "--parquet", str(tmp_path / "safe")]).exit_code == 0
    )
    with connect() as db:
        for folder, wanted in (("all", True), ("safe", False)):
            path = quoted(tmp_path / folder / "jobs.parquet")
            columns = [
                row[0] for row in db.execute(f"DESCRIBE SELECT * FROM read_parquet({path})").fetchall()
            ]
            assert ("person" in columns) is wanted
            assert db.execute(f"SELECT count(*) FROM read_parquet({path})").fetchone() == (11,)
    for wrong in (["export"], ["export", "--all"], ["export", "last", "--teaching", "--format", "md"]):
        error = run.invoke(cli, wrong).exception
        assert isinstance(error, NarratorError)
        assert error.code == "E807"
