"""The README's two commands: one is what CI runs, the other makes a sheet."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from narrator.cli import cli
from narrator.job.record import Record
from narrator.utterances import parse_lines
from narrator.wording import plain_words, word_errors
from tests.golden.test_hearing import MOST_ERRORS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = [line.strip() for line in README.splitlines() if line.startswith("    ")]


def parts(command: str) -> list[list[str]]:
    return [shlex.split(part) for part in command.split("&&")]


def test_there_are_two_and_both_make_the_environment() -> None:
    assert len(COMMANDS) == 2
    assert all(parts(command)[0] == ["python3", "-m", "venv", ".venv"] for command in COMMANDS)


def test_the_second_is_what_ci_runs() -> None:
    script = [shlex.split(line, comments=True) for line in (ROOT / ".ci" / "run").read_text().splitlines()]
    places = [script.index(part) for part in parts(COMMANDS[1])]
    assert places == sorted(places)


@pytest.mark.engine
def test_the_first_makes_a_sheet_of_what_was_heard_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    install, run = parts(COMMANDS[0])[1:]
    assert install == [".venv/bin/pip", "install", "--quiet", "-e", "."]
    assert run[0] == ".venv/bin/narrator"
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path / "home"))
    out = run.index("--out") + 1
    result = CliRunner().invoke(cli, [*run[1:out], str(tmp_path / "sheet"), *run[out + 1 :]])
    assert result.exit_code == 0, result.output
    assert {p.name for p in (tmp_path / "sheet").iterdir()} == {
        "sheet.html", "sheet.pdf", "sheet.md", "record.json",
    }  # fmt: skip
    sample = (ROOT / run[2]).parent
    record = Record.model_validate_json((tmp_path / "sheet" / "record.json").read_text(encoding="utf-8"))
    assert len(record.utterances) >= 20
    heard = [word for row in record.utterances for word in plain_words(row.text)]
    lines = (sample / "utterances.jsonl").read_text(encoding="utf-8").splitlines()
    said = [word for one in parse_lines(lines) for word in plain_words(one.text)]
    assert word_errors(said, heard) / len(said) <= MOST_ERRORS[sample.name]
