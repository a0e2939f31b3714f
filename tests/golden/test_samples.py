"""The sample sessions compile to the records shipped with them, which hold what a person wrote down."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from narrator.job.record import Record
from narrator.paths import SAMPLE_SESSIONS
from tests.golden.facts import misses
from tests.golden.regenerate import compile_sample

SAMPLES = sorted(path.parent for path in SAMPLE_SESSIONS.glob("*/utterances.jsonl"))


def test_there_are_samples() -> None:
    assert len(SAMPLES) >= 3


@pytest.fixture(params=SAMPLES, ids=[folder.name for folder in SAMPLES])
def sample(request: pytest.FixtureRequest) -> Path:
    folder: Path = request.param
    return folder


def test_record_is_the_shipped_one_byte_for_byte(sample: Path) -> None:
    expected = (sample / "expected.record.json").read_text(encoding="utf-8")
    assert compile_sample(sample) == expected, (
        "if the change is meant, look at it and run: python -m tests.golden.regenerate"
    )


def test_record_holds_what_was_written_down_by_hand(sample: Path) -> None:
    record = Record.model_validate_json(compile_sample(sample)).model_dump(mode="json")
    facts = tomllib.loads((sample / "check.toml").read_text(encoding="utf-8"))
    missing = misses(record, facts)
    assert not missing, "\n" + "\n".join(missing)


def test_every_value_points_into_its_utterance(sample: Path) -> None:
    record = Record.model_validate_json(compile_sample(sample))
    for row in record.utterances:
        for entity in row.entities:
            start, end = entity["span"]
            assert 0 <= start < end <= len(row.text), (row.id, entity)
    known = {row.id for row in record.utterances}
    for hypothesis in record.hypotheses:
        assert {step.utterance for step in hypothesis.history} <= known
    for measurement in record.measurements:
        assert measurement.utterance in known
