"""Names are tried on what they may fit at all, and on nothing else."""

from __future__ import annotations

from itertools import product

import pytest

from narrator.job.naming import Sharers, likeness
from narrator.language.vocabulary import vocabulary

NAMES = sorted({entry.name for entry in vocabulary().entries if entry.kind == "component"})[::7]


def test_names_without_a_common_word_are_never_alike() -> None:
    assert len(NAMES) > 150
    sharers = Sharers()
    for n, name in enumerate(NAMES):
        sharers.enter(name, n)
    alike = {(a, b) for a, b in product(NAMES, NAMES) if likeness(a, b) > 0}
    tried = {(a, NAMES[n]) for a in NAMES for n in sharers.of(a)}
    assert len(alike) > len(NAMES)
    assert alike <= tried
    assert len(tried) < len(NAMES) ** 2 / 10


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("pump", [0, 1]),
        ("left water pump", [0, 1]),
        ("fuel pump relay", [0, 1, 2]),
        ("relay", [2]),
        ("hose", []),
    ],
)
def test_what_shares_a_word_is_given_once_and_in_order(said: str, found: list[int]) -> None:
    sharers = Sharers()
    for n, name in enumerate(("fuel pump", "water pump", "relay")):
        sharers.enter(name, n)
    sharers.enter("pump", 0)
    assert sharers.of(said) == found
