"""Varied talk: line for line, numbers stay numbers, the same part gets the same new name through a talk."""

from __future__ import annotations

from random import Random

from models.understanding.network.vary import Spoken, vary

FIRST = Spoken(
    ["four ten mil bolts off the water pump".split(), "water pump next".split(), "right then".split()],
    [[("component", 6, 8)], [("component", 0, 2)], []],
)
OTHER = Spoken([["it", "might", "be", "the", "drive", "belt"]], [[("component", 4, 6)]])


def test_every_talk_keeps_its_lines() -> None:
    for seed in range(40):
        out = list(vary([FIRST, OTHER], Random(seed)))
        assert [len(talk) for talk in out] == [3, 1]
        assert all(line for talk in out for line in talk)


def test_names_are_exchanged_alike_through_a_talk() -> None:
    renamed = 0
    for seed in range(200):
        talk = next(vary([FIRST, OTHER], Random(seed)))
        if talk[0][-2:] == ["drive", "belt"] and talk[1][-1:] == ["next"]:
            renamed += talk[1] == ["drive", "belt", "next"]
    assert renamed > 5


def test_a_count_becomes_another_count_and_never_a_word() -> None:
    said = {talk[0][0] for seed in range(200) for talk in vary([FIRST], Random(seed)) if "bolts" in talk[0]}
    assert len(said & set("two three five six seven eight nine".split())) >= 5


def test_the_same_seed_gives_the_same_talk() -> None:
    assert list(vary([FIRST, OTHER], Random(3))) == list(vary([FIRST, OTHER], Random(3)))
