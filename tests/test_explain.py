"""Every derived value is traced to words and to what made it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from narrator.cli import cli
from narrator.explain import LEDGERS, explain
from narrator.job.compile import compile_record
from narrator.job.trace import TracedLine
from narrator.language import Reader
from narrator.paths import SAMPLE_SESSIONS
from narrator.session import keep_session
from narrator.utterances import parse_lines
from narrator.values import Utterance

SAMPLES = sorted(SAMPLE_SESSIONS.glob("*/utterances.jsonl"))
SHORT = SAMPLE_SESSIONS / "brake_drag" / "utterances.jsonl"


def said(path: Path) -> list[Utterance]:
    return list(parse_lines(path.read_text(encoding="utf-8").splitlines()))


@pytest.fixture(scope="module", params=SAMPLES, ids=[path.parent.name for path in SAMPLES])
def explained(request: pytest.FixtureRequest) -> tuple[list[Utterance], dict[str, Any]]:
    utterances = said(request.param)
    return utterances, explain(utterances, weights=False)


def test_watching_changes_nothing() -> None:
    for path in SAMPLES:
        plain = compile_record(Reader().read(said(path)))
        assert compile_record(Reader().read(said(path)), make_line=TracedLine) == plain


def test_every_value_of_the_record_is_explained(explained: tuple[list[Utterance], dict[str, Any]]) -> None:
    utterances, found = explained
    record = compile_record(Reader().read(utterances)).model_dump(mode="json")
    for name in LEDGERS:
        rows = [v for v in found["values"] if v["list"] == name]
        assert len(rows) == (1 if name == "vehicle" else len(record[name]))
        for value in rows:
            assert value["from"], value
            assert all(source["words"] for source in value["from"]), value
            assert any(source["because"] for source in value["from"]), value


def test_an_outcome_tells_what_the_model_weighed(
    explained: tuple[list[Utterance], dict[str, Any]],
) -> None:
    rows = [v for v in explained[1]["values"] if v["list"] in ("tests", "verifications")]
    assert rows
    for row in rows:
        made = row["outcome"]
        assert made["said"] or made["context"]
        good = "pass" if made["odds"] > 0 else "fail"
        assert row["value"]["outcome"] in (good, "inconclusive")


def test_every_part_of_an_utterance_says_what_made_it(
    explained: tuple[list[Utterance], dict[str, Any]],
) -> None:
    utterances, found = explained
    assert [row["id"] for row in found["utterances"]] == [one.id for one in utterances]
    for row in found["utterances"]:
        assert all(one["by"] for one in row["acts"])
        assert all(one["rule"] and one["words"] in row["text"] for one in row["entities"])
        assert all(one["cue"] and one["words"] in row["text"] for one in row["cues"])
        assert all(one["rule"] for one in row["repairs"])
        assert all(one["reason"] for one in row["looks"])


def test_every_ledger_that_asks_belongs_to_a_list() -> None:
    lines: list[TracedLine] = []
    for path in SAMPLES:
        compile_record(
            Reader().read(said(path)), make_line=lambda one: lines.append(TracedLine(one)) or lines[-1]
        )
    known = {ledger for ledgers in LEDGERS.values() for ledger in ledgers}
    assert {asked.ledger for line in lines for asked in line.asked} <= known


def test_what_spoke_for_an_act_of_the_model() -> None:
    found = explain(said(SHORT), only=2)
    assert [row["id"] for row in found["utterances"]] == [2]
    by_model = [act for act in found["utterances"][0]["acts"] if act["by"].startswith("model")]
    assert by_model
    for act in by_model:
        words = [name.startswith("word=") for name, _ in act["for"]]
        assert words == sorted(words)  # what the categorizer looked at, then the network's words
        for half in (True, False):
            weights = [weight for (_, weight), word in zip(act["for"], words, strict=True) if word is half]
            assert weights == sorted(weights, reverse=True)
            assert all(weight > 0 for weight in weights)
        assert any(words)


def test_a_kept_session_and_its_file_are_explained_alike(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    ident = keep_session(tmp_path, said(SHORT))
    of_file = CliRunner().invoke(cli, ["explain", str(SHORT), "--utterance", "3", "--json"])
    of_session = CliRunner().invoke(cli, ["explain", ident, "--utterance", "3", "--json"])
    assert of_file.exit_code == of_session.exit_code == 0
    assert json.loads(of_file.stdout) == json.loads(of_session.stdout)


def test_it_reads_well_on_a_terminal() -> None:
    result = CliRunner().invoke(cli, ["explain", str(SHORT)])
    assert result.exit_code == 0
    assert "hypotheses: id H1" in result.stdout
    assert "Diagnosis." in result.stdout


def test_an_utterance_that_is_not_there() -> None:
    result = CliRunner().invoke(cli, ["explain", str(SHORT), "--utterance", "999"])
    assert "E403" in str(result.exception)
