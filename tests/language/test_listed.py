"""Which things that a line names the record lists."""

from __future__ import annotations

import json

import pytest

from narrator.job.compile import compile_record
from narrator.language import listed
from narrator.language.reader import Reader
from narrator.values import Tool, Understood, Utterance


def read(*lines: str) -> list[Understood]:
    return list(Reader().read(Utterance(n, float(n), n + 1.0, text) for n, text in enumerate(lines, start=1)))


def names(line: Understood, unlisted: bool) -> list[str]:
    return [getattr(e, "name", "") for e in line.entities if (e.at in line.unlisted) == unlisted]


def test_what_a_line_is_about_is_listed() -> None:
    lines = read(
        "it cranks slowly when it is cold", "the alternator belt is cracked", "so it's the alternator belt"
    )
    assert [names(line, True) for line in lines] == [[], [], []]
    assert names(lines[1], False) == ["alternator belt"]


def test_what_is_named_by_the_way_is_off_the_list_but_stays_known(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(listed.LEAST, "component", 1.1)
    line = read("it might be the alternator belt")[0]
    assert names(line, True) == ["alternator belt"]
    record = compile_record([line])
    assert record.utterances[0].entities == []
    assert [h.component for h in record.hypotheses] == ["alternator belt"]


def test_without_a_model_everything_is_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listed, "_weights", lambda: None)
    assert not read("it rattles like a bag of spanners so it does")[0].unlisted


def test_the_model_as_shipped_has_a_weight_for_every_name() -> None:
    weights = json.loads((listed.FOLDER / "listed.json").read_text(encoding="utf-8"))
    assert set(weights) == {*listed.NAMES, "bias"}


def test_names_are_counted_and_found_within_others() -> None:
    named = listed.Named()
    tools = [Tool(span=(0, 1), at=(0, 1), rule="", name=name) for name in ("spanner", "pin", "pin")]
    named.add(tools)
    assert [named.often(name) for name in ("spanner", "pin", "pan")] == [1, 2, 0]
    assert [named.within(name) for name in ("spanner", "pin", "pan", "nut")] == [False, False, True, False]
