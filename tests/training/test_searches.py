"""Searches are kept under a name and asked again; a broken file is told of."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from narrator.cli import cli
from narrator.errors import NarratorError
from narrator.session import keep_session
from narrator.store.finding import Wanted
from narrator.training.kinds import system_names, system_of
from narrator.training.searches import forget_search, keep_search, saved_search, saved_searches
from narrator.values import Utterance


def test_keep_ask_and_forget(tmp_path: Path) -> None:
    wanted = Wanted(suspected="alternator", ended="cleared", no_code=True)
    keep_search(tmp_path, "cleared", wanted)
    keep_search(tmp_path, "other", Wanted(said="café"))
    assert saved_search(tmp_path, "cleared") == wanted
    forget_search(tmp_path, "other")
    assert list(saved_searches(tmp_path)) == ["cleared"]
    with pytest.raises(NarratorError, match="E803"):
        saved_search(tmp_path, "other")


@pytest.mark.parametrize("text", ["{", "[1]", '{"a": {"colour": "red"}}'])
def test_a_broken_file(tmp_path: Path, text: str) -> None:
    (tmp_path / "searches.json").write_text(text)
    with pytest.raises(NarratorError, match="E802"):
        saved_searches(tmp_path)


def test_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    said = ("the lights flicker", "i suspect the ground strap", "yep it's the ground strap it's loose")
    session = keep_session(
        tmp_path, [Utterance(n, n * 5.0, n * 5.0 + 3, text) for n, text in enumerate(said)]
    )
    run = CliRunner()
    found = run.invoke(cli, ["search", "--suspected", "strap", "--save", "straps"])
    assert session in found.stdout
    assert "1 job(s) found" in found.stderr
    assert session in run.invoke(cli, ["search", "flicker", "--saved", "straps"]).stdout
    settled = run.invoke(cli, ["search", "--confirmed", "strap"]).stdout.lower()
    assert "#2    yep it's the ground strap it's loose" in settled
    nothing = run.invoke(cli, ["search", "--saved", "straps", "--ended", "cleared", "--json"])
    assert json.loads(nothing.stdout) == {"count": 0, "jobs": []}
    assert session not in run.invoke(cli, ["search", "--saved", "straps", "--ended", "cleared"]).stdout
    system = system_of("ground strap")
    assert system in system_names()
    assert session in run.invoke(cli, ["search", "--system", system]).stdout
    assert session not in run.invoke(cli, ["search", "--system", "brakes"]).stdout
    assert run.invoke(cli, ["search", "--since", "2031-02-28"]).exit_code == 0
    for wrong in (["--since", "2031-13-45"], ["--until", "yesterday"], ["--system", "brake"]):
        for command in ("search", "study"):
            told = run.invoke(cli, [command, *wrong])
            assert told.exit_code == 2
            assert f"{wrong[1]!r} is no" in told.stderr
    days = ["--since", "2031-03-05", "--until", "2031-03-04"]
    for wrong in (["search", *days], ["study", *days], ["search", *days, "--save", "never"]):
        told = run.invoke(cli, wrong).exception
        assert isinstance(told, NarratorError) and told.code == "E808"
        assert "2031-03-05" in told.message and "2031-03-04" in told.message
    one_day = run.invoke(cli, ["search", "--since", "2031-03-04", "--until", "2031-03-04"])
    assert one_day.exit_code == 0, "both days are included"
    assert "never" not in saved_searches(tmp_path)
    assert "straps" in run.invoke(cli, ["search", "--list"]).stdout
    assert "straps" not in run.invoke(cli, ["search", "--drop", "straps"]).stdout
