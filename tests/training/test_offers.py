"""Words of the shop that no list holds are offered with where they were heard, as lines that add them."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from narrator.cli import cli
from narrator.session import derive, keep_session
from narrator.store import Reader, Writer
from narrator.training.offers import Offer, offers
from narrator.values import Correction, Utterance

SAID = (
    ("the flobber valve rattles", "i suspect the alternator", "fourteen volts on the gizzmo bracket"),
    ("new flobber valve fitted", "the left front caliper drags", "took the squimmer out and cleaned it"),
    ("it's the flow bear valve i say", "the joint is loose", "check the gizzmo bracket"),
)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    kept = [
        keep_session(tmp_path, [Utterance(n, n * 5.0, n * 5.0 + 3, t) for n, t in enumerate(lines, start=1)])
        for lines in SAID
    ]
    with Writer(tmp_path) as writer:
        writer.add_correction(
            kept[2], Correction(1, "it's the flobber valve i say", "ana", "2031-01-01T00:00:00Z")
        )
        writer.add_correction(kept[2], Correction(2, "the joint is loose now", "ana", "2031-01-01T00:00:00Z"))
        derive(writer, kept[2])
    return tmp_path


def by_name(home: Path, least: int = 2) -> dict[str, Offer]:
    with Reader(home) as reader:
        return {one.name: one for one in offers(reader, least)}


def test_what_is_offered_and_where_it_was_heard(home: Path) -> None:
    found = by_name(home)
    valve = found["flobber valve"]
    assert (valve.kind, valve.jobs, valve.times, valve.corrected) == ("component", 3, 3, 1)
    assert valve.heard == {"flow bear valve": 1}
    assert valve.example.lower() == "the flobber valve rattles"
    assert found["gizzmo bracket"].jobs == 2
    assert next(iter(found)) == "flobber valve"


def test_what_is_known_or_rare_is_not(home: Path) -> None:
    found = by_name(home)
    assert not {"alternator", "caliper", "left front caliper", "joint", "squimmer"} & set(found)
    assert by_name(home, least=1)["squimmer"].jobs == 1


def test_the_lines_add_the_words(home: Path) -> None:
    run = CliRunner().invoke(cli, ["vocabulary", "offers"])
    assert run.exit_code == 0, run.output
    lines = [line for line in run.stdout.splitlines() if not line.startswith("#")]
    assert "narrator vocabulary add flobber valve --kind component --sounds-like 'flow bear valve'" in lines
    for line in lines:
        added = CliRunner().invoke(cli, shlex.split(line)[1:])
        assert added.exit_code == 0, added.output
    assert by_name(home) == {}
    shown = CliRunner().invoke(cli, ["vocabulary", "check", "the flow bear valve"])
    assert "flow bear valve -> flobber valve" in shown.stdout


def test_as_json(home: Path) -> None:
    run = CliRunner().invoke(cli, ["vocabulary", "offers", "--json", "--most", "1"])
    assert [row["name"] for row in json.loads(run.stdout)] == ["flobber valve"]
