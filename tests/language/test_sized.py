"""Numbers that may be sizes of fasteners; the model's weights are given here."""

from __future__ import annotations

import json

import numpy as np
import pytest

from narrator.language import sized
from narrator.language.act_network import TAGS, Read
from narrator.language.pipeline import workspaces
from narrator.language.unsaid import Memory
from narrator.values import Fastener, Measurement, Size


@pytest.fixture(autouse=True)
def weights(monkeypatch: pytest.MonkeyPatch) -> None:
    """A model that goes by the network's word on the size alone."""
    own = [0.0] * (len(sized.NAMES) + 1)
    own[sized.NAMES.index("named")], own[-1] = 10.0, -5.0
    monkeypatch.setattr(sized, "_weights", lambda: own)


def fasteners(text: str, named: str) -> list[Fastener]:
    """The fasteners of a line of which the network says that some words name fasteners."""
    notes = workspaces([text])[0]
    tags = np.zeros((len(notes.words), len(TAGS)), np.float32)
    tags[:, 0] = 1.0
    for word in named.split():
        tags[notes.words.index(word)] = np.eye(len(TAGS), dtype=np.float32)[TAGS.index("first fastener")]
    notes.scratch["read"] = Read(np.zeros(384, np.float32), tags, [], [0.0] * len(tags), tags)
    Memory().supply(notes)
    return [e for e in notes.entities if isinstance(e, Fastener)]


@pytest.mark.parametrize(
    ("text", "named", "size", "count"),
    [
        ("bottom thirteen out and swing it up", "thirteen", Size(13.0, "mm"), 1),
        ("thirteens in the caliper with a dab of thread lock", "thirteens", Size(13.0, "mm"), None),
        ("the pipe is a nineteen at one end", "nineteen", Size(19.0, "mm"), 1),
        ("drain pipe is one twenty two at the tank end", "twenty two", Size(22.0, "mm"), 1),
        ("pump cover now four seven sixteenths all but one", "seven sixteenths", Size(0.4375, "in"), 4),
        ("the housing is a pair of half inch heads", "half", Size(0.5, "in"), 2),
        ("carb home 8s tight", "8", Size(8.0, "mm"), None),
    ],
)
def test_a_size_that_the_model_takes_for_one(text: str, named: str, size: Size, count: int | None) -> None:
    assert [(f.size, f.count) for f in fasteners(text, named)] == [(size, count)]


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("and forty seven on it", "forty seven"),
        ("panel gets its four", "four"),
        ("hand me the thirteen socket", "thirteen"),
        ("it draws thirteen amps", "thirteen"),
        ("bottom thirteen is a mess", ""),
    ],
)
def test_other_numbers_and_what_the_model_doubts_are_none(text: str, named: str) -> None:
    assert not fasteners(text, named)


@pytest.mark.parametrize(
    "text", ["the nut that's a thirteen", "undo the bolts, 13, and lift", "the nuts with a thirteen"]
)
def test_a_size_told_right_after_them_is_theirs(text: str) -> None:
    made = fasteners(text, "thirteen" if "thirteen" in text else "13")
    assert [(f.kind_said, f.size) for f in made] == [(True, Size(13.0, "mm"))]


def test_a_size_is_no_length() -> None:
    notes = workspaces(["and a brand new half inch in"])[0]
    assert any(isinstance(e, Measurement) for e in notes.entities)
    assert [f.size for f in fasteners("and a brand new half inch in", "half")] == [Size(0.5, "in")]


def test_without_a_model_rules_alone_decide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sized, "_weights", list)
    assert not fasteners("the pipe is a nineteen at one end", "nineteen")


def test_the_model_as_shipped_has_a_weight_for_every_name() -> None:
    weights = json.loads((sized.FOLDER / "sizes.json").read_text(encoding="utf-8"))
    assert set(weights) == {*sized.NAMES, "bias"}
