"""Bare sizes by the network; its shares are given here, so no training changes the tests."""

from __future__ import annotations

import numpy as np

from narrator.language.act_network import AMOUNTS, MOVES, TAGS, Read, Told
from narrator.language.candidates import candidates
from narrator.language.pipeline import workspaces
from narrator.language.taggedsizes import RULE, moves, tagged_sizes
from narrator.language.tokens import Notes
from narrator.values import Fastener, Size


def sizes(text: str, named: str, notes: Notes | None = None) -> list[Fastener]:
    """What is made of a line of which the network says that some words name fasteners."""
    notes = notes or workspaces([text])[0]
    notes.scratch.pop("candidates", None)
    tags = np.zeros((len(notes.words), len(TAGS)), np.float32)
    tags[:, 0] = 1.0
    for word in named.split():
        tags[notes.words.index(word)] = np.eye(len(TAGS), dtype=np.float32)[TAGS.index("first fastener")]
    read = Read(np.zeros(384, np.float32), tags.tolist(), [], [0.0] * len(notes.words), tags)
    tagged_sizes(notes, read)
    return [c.fastener for c in candidates(notes) if c.fastener.rule == RULE]


def test_a_standard_size_that_the_network_names_is_a_fastener() -> None:
    made = sizes("bottom thirteen out and swing it up", "thirteen")
    assert [(f.size, f.count) for f in made] == [(Size(13.0, "mm"), 1)]


def test_a_plural_and_a_count_before_it() -> None:
    made = sizes("thirteens in the caliper with a dab of thread lock", "thirteens")
    assert [(f.size, f.count) for f in made] == [(Size(13.0, "mm"), None)]


def test_numbers_of_no_standard_small_ones_and_tools_are_none() -> None:
    assert not sizes("and forty seven on it", "forty seven")
    assert not sizes("panel gets its five", "five")
    assert not sizes("hand me the thirteen socket", "thirteen")


def test_the_network_must_be_sure() -> None:
    assert not sizes("bottom thirteen out and swing it up", "")


def test_only_what_moves() -> None:
    notes = workspaces(["bottom thirteen out"])[0]
    assert not moves(notes, (1, 2))
    table = np.zeros((3, len(MOVES)), np.float32)
    table[1, MOVES.index("off")] = 0.9
    notes.scratch["told"] = Told(table, np.zeros((3, len(AMOUNTS)), np.float32))
    assert moves(notes, (1, 2))
