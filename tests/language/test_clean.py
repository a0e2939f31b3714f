"""The readable form of a line."""

from __future__ import annotations

import pytest

from narrator.language.reader import Reader
from narrator.values import Utterance


@pytest.mark.parametrize(
    ("heard", "clean"),
    [
        ("Torque those to thirty, no, thirty five newton metres.", "Torque those to 35 N·m."),
        ("Two, no, three ten mil bolts, all out.", "3 × 10 mm bolts, all out."),
        ("No, it holds.", "No, it holds."),
        ("it's off, 's all; is it - hm", "It's off,'s all; is it hm"),
        ("um it's off, right... er", "It's off, right"),
    ],
)
def test_no_comma_stays_behind_what_was_taken_back(heard: str, clean: str) -> None:
    [one] = Reader().read([Utterance(1, 0.0, 1.0, heard)])
    assert one.clean == clean
