from __future__ import annotations

import json
import sys

import pytest
from click.testing import CliRunner

from narrator.cli.microphones import bar, command, verdict
from narrator.hearing.level import Level
from tests.hearing.fake_sounddevice import FakePortAudio


@pytest.fixture
def system(monkeypatch: pytest.MonkeyPatch) -> FakePortAudio:
    fake = FakePortAudio(("Bench USB mic", 1, 48_000), ("Line in", 2, 44_100))
    monkeypatch.setitem(sys.modules, "sounddevice", fake.module())
    return fake


def test_microphones_as_table_and_as_json(system: FakePortAudio) -> None:
    table = CliRunner().invoke(command, [])
    assert "Bench USB mic" in table.stdout
    assert "48000 Hz" in table.stdout
    rows = json.loads(CliRunner().invoke(command, ["--json"]).stdout)
    assert rows[1] == {"name": "Line in", "channels": 2, "rate": 44_100, "default": False}


def test_no_microphone_is_said_not_an_error(system: FakePortAudio) -> None:
    system._listed = []
    found = CliRunner().invoke(command, [])
    assert (found.stdout, found.exit_code) == ("", 0)
    assert "No microphone" in found.stderr


def test_the_bar_grows_and_warns() -> None:
    assert bar(Level(peak=-30.0), 10).startswith("█████░░░░░")
    assert "CUT OFF" in bar(Level(peak=0.0, clipping=True))
    assert [verdict(p) for p in (-50.0, -12.0, -1.0)] == ["too quiet", "good", "very loud"]
