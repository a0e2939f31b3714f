"""A lesson holds the ending back; what is exported for teaching does not tell who."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from narrator.cli import cli
from narrator.errors import NarratorError
from narrator.session import keep_session
from narrator.store import Writer
from narrator.store.rows import Sound
from narrator.training.casesheet import case_page
from narrator.training.invented import fill
from narrator.training.lesson import case_sheet, clip
from narrator.training.parquet import connect, quoted
from narrator.training.replay import QUESTIONS, decisions
from narrator.training.sound import stretch
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


def test_the_printed_page_keeps_the_ending_apart_and_takes_names_out() -> None:
    page = case_page(example(), "brake <1>", lambda text: text.replace("hose", "[part]"))
    case, ending = page.split('class="ending"')
    assert "the [part] is swollen shut" in ending
    assert "Settled by the technician: [part]" in ending
    assert "Settled" not in case
    assert "hose" not in page
    assert "brake &lt;1&gt;" in case
    assert case.count("<section>") == len(decisions(example()))


def test_after_the_last_decision_all_is_told() -> None:
    stops = decisions(example())
    assert stops[-1].happened[-1].id == len(LINES)
    assert all(len(stop.happened) <= 3 for stop in stops[:-1])


def test_the_sound_up_to_a_decision(tmp_path: Path) -> None:
    folder = tmp_path / "sound" / "s"
    folder.mkdir(parents=True)
    soundfile.write(folder / "sound.wav", np.zeros(8000 * 30), 8000)
    first = decisions(example())[0]
    made = clip(tmp_path, "s", (Sound("sound.wav", 0.0, ""),), first, tmp_path / "clips")
    assert made is not None
    assert soundfile.info(made).duration == pytest.approx(24.5)
    assert clip(tmp_path, "s", (), first, tmp_path) is None


def test_no_sound_of_what_decides_is_played() -> None:
    rows = [u.model_copy(update={"end": 30.2}) if u.id == 2 else u for u in example().utterances]
    stops = decisions(example().model_copy(update={"utterances": rows}))
    assert (stops[0].end, stops[0].happened[0].start) == (30, 30)


def test_a_stretch_goes_over_several_files_and_the_holes_between(tmp_path: Path) -> None:
    folder = tmp_path / "sound" / "s"
    folder.mkdir(parents=True)
    soundfile.write(folder / "a.flac", np.full((16_000, 2), 0.25), 8000)
    soundfile.write(folder / "b.flac", np.full(16_000, 0.5), 8000)
    sounds = (Sound("a.flac", 0.0, ""), Sound("b.flac", 3.0, ""), Sound("gone.flac", 5.0, ""))
    found = stretch(tmp_path, "s", sounds, 1.0, 4.0)
    assert found is not None
    samples, rate = found
    assert (len(samples), rate) == (24_000, 8000)
    assert [round(float(samples[at]), 2) for at in (0, 7_999, 8_001, 15_999, 16_001)] == [
        0.25,
        0.25,
        0,
        0,
        0.5,
    ]
    assert stretch(tmp_path, "s", sounds, 6.0, 7.0) is None


def test_replay_on_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    session = keep_session(tmp_path, [Utterance(n, n * 5.0, n * 5.0 + 3, t) for n, t in enumerate(SAID)])
    run = CliRunner().invoke(cli, ["replay", "last", "--who", "trainee"], input="the strap\n" * 60)
    assert run.exit_code == 0
    lines = (tmp_path / "lessons" / f"{session}.jsonl").read_text(encoding="utf-8").splitlines()
    kept = [json.loads(line) for line in lines]
    assert {row["who"] for row in kept} == {"trainee"}
    assert kept[0]["answers"] == {"1": dict.fromkeys(QUESTIONS, "the strap")}
    assert [list(row["answers"]) for row in kept] == [[str(n)] for n in range(1, len(kept) + 1)]
    assert "No sound of this job was kept." in run.stderr
    shown = CliRunner().invoke(cli, ["replay", session, "--answers"]).stdout
    assert shown.count("What do you suspect? the strap") == len(kept)
    told = [line[9:].lower() for line in run.stdout.splitlines() if line.startswith("   ")]
    assert len(told) == len(SAID)
    for name, holds in (("case.md", "Ending of case"), ("case.html", 'class="ending"')):
        assert CliRunner().invoke(cli, ["replay", session, "--sheet", str(tmp_path / name)]).exit_code == 0
        assert holds in (tmp_path / name).read_text(encoding="utf-8")


def test_answers_given_before_the_lesson_is_broken_off_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    session = keep_session(tmp_path, [Utterance(n, n * 5.0, n * 5.0 + 3, t) for n, t in enumerate(SAID)])
    run = CliRunner().invoke(cli, ["replay", "last", "--who", "trainee"], input="the strap\n" * 4)
    assert run.exit_code == 1
    lines = (tmp_path / "lessons" / f"{session}.jsonl").read_text(encoding="utf-8").splitlines()
    assert [list(json.loads(line)["answers"]) for line in lines] == [["1"]]


@pytest.mark.parametrize(("given", "works", "played", "told"), [
    ([], True, 3, ""),
    ([], False, 1, "cannot be played here"),
    (["--silent"], True, 0, ""),
])  # fmt: skip
def test_sound_is_played_where_it_can_be(
    given: list[str], works: bool, played: int, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[float] = []

    def play(samples: np.ndarray[Any, Any], rate: int) -> bool:
        heard.append(len(samples) / rate)
        return works

    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    monkeypatch.setattr("narrator.cli.replay.play", play)
    session = keep_session(tmp_path, [Utterance(n, n * 5.0, n * 5.0 + 3, t) for n, t in enumerate(SAID)])
    folder = tmp_path / "sound" / session
    folder.mkdir(parents=True)
    soundfile.write(folder / "sound.wav", np.zeros(8000 * 40), 8000)
    with Writer(tmp_path) as writer:
        writer.add_sound(session, Sound("sound.wav", 0.0, ""))
    run = CliRunner().invoke(cli, ["replay", "last", *given], input="x\n" * 60)
    assert run.exit_code == 0, run.output
    assert len(heard) == played
    assert all(3 <= seconds < 20 for seconds in heard)
    assert run.stderr.count("cannot be played here") == (told != "")


@pytest.mark.parametrize(("text", "clean"), [
    ("ana says number plate is k x four seven one h d she waits",
     "[person 1] says number plate is [plate] she waits"),
    ("Number plate is KX471HD she waits", "Number plate is [plate] she waits"),
    ("VIN ZY9PH2B4XBT107362 it says", "VIN [VIN] it says"),
    ("the i n is zulu yankee nine papa hotel, two bravo four x ray BT107362.", "the i n is [number]."),
    ("plate is k x, four seven one it says", "plate is [plate] it says"),
    ("ring oh one six three two, nine six oh one two three he says", "ring [number] he says"),
    ("two by four seven eight nine on the way i go", "two by four seven eight nine on the way i go"),
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
        ids = {}
        for folder in ("all", "safe"):
            jobs, suspects = (quoted(tmp_path / folder / f"{name}.parquet") for name in ("jobs", "suspects"))
            ids[folder] = {r[0] for r in db.execute(f"SELECT session FROM {jobs}").fetchall()}
            joined = db.execute(f"SELECT count(*) FROM {jobs} JOIN {suspects} USING (session)").fetchone()
            assert joined == db.execute(f"SELECT count(*) FROM {suspects}").fetchone()
        assert len(ids["safe"]) == 11
        assert ids["all"].isdisjoint(ids["safe"])
    assert not (tmp_path / "safe" / "store").exists()
    assert not (tmp_path / "safe" / "sketches.parquet").exists()
    for wrong in (["export"], ["export", "--all"], ["export", "last", "--teaching", "--format", "md"]):
        error = run.invoke(cli, wrong).exception
        assert isinstance(error, NarratorError)
        assert error.code == "E807"
