"""The benchmark's measuring: that it measures the real commands, and what it makes of a failing one."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest
import soundfile
from click.testing import CliRunner

from narrator import bench
from narrator.cli.bench import command
from narrator.errors import NarratorError
from narrator.job.record import Record
from narrator.values import Word
from tests.bench.spoken_values import asks


def test_a_command_is_run_and_its_cost_told() -> None:
    run = bench.run_command("compile", str(bench.samples()[0] / "utterances.jsonl"))
    assert Record.model_validate_json(run.output).utterances
    assert run.seconds > 0.05
    assert run.cpu > 0.05
    assert run.peak is None or 20 < run.peak < 2000


def test_a_command_that_fails_is_told_with_its_reason(tmp_path: Path) -> None:
    with pytest.raises(NarratorError, match=r"E810.*E101"):
        bench.run_command("compile", str(tmp_path / "none.jsonl"))


def test_a_long_session_is_as_long_as_asked_and_in_order() -> None:
    session = list(bench._long_session(0.5))
    assert 1780 < session[-1].end <= 1800
    assert [one.id for one in session] == list(range(1, len(session) + 1))
    assert all(one.end <= two.start for one, two in pairwise(session))


def test_a_long_sound_is_as_long_as_asked(tmp_path: Path) -> None:
    path = tmp_path / "long.flac"
    bench._write_long(path, 0.05)
    assert soundfile.info(path).duration == pytest.approx(180.0)


def test_a_perfect_hearing_has_no_errors(monkeypatch: pytest.MonkeyPatch) -> None:
    folder = bench.samples()[0]
    lines = (folder / "utterances.jsonl").read_text(encoding="utf-8")
    monkeypatch.setattr(bench, "run_command", lambda *_: bench.Run(2.0, 1.0, 100.0, lines))
    found = bench.hear_sample(folder, "any")
    assert found.wer == 0.0
    assert found.words > 200
    assert found.rtf == pytest.approx(2 * found.cpu_rtf)
    worse = lines.replace("caliper", "kelp or")
    monkeypatch.setattr(bench, "run_command", lambda *_: bench.Run(2.0, 1.0, 100.0, worse))
    assert bench.hear_sample(folder, "any").wer == pytest.approx(2 * lines.count("caliper") / found.words)


def test_figures_as_json() -> None:
    result = CliRunner().invoke(command, ["--no-hearing", "--hours", "0.05", "--json"])
    assert result.exit_code == 0, result.output
    row = json.loads(result.stdout)
    assert row["what"] == "understanding"
    assert row["utterances"] > 10
    assert row["per_second"] > 1


def test_a_line_heard_unsurely_is_told_to_come_up_for_a_look() -> None:
    sure = [
        Word(word, n * 0.4, n * 0.4 + 0.3, 0.97) for n, word in enumerate("two ten mil bolts off".split())
    ]
    unsure = [sure[0], Word("ten", 0.4, 0.7, 0.2), *sure[2:]]
    assert not asks(sure)
    assert asks(unsure)
    assert not asks([])
