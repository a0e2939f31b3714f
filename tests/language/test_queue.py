"""What is queued for a look, told by lines of our own (invented)."""

from __future__ import annotations

import pytest

from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.looks import queue
from narrator.values import Gap, Utterance, Word

TOLD = {
    "size": ("two forty one mil bolts off the bracket", "a 41 mm head is no usual size for a bolt"),
    "unknown": ("the grommelfritz is loose", "“grommelfritz” is in no word list"),
    "left": ("four ten mil bolts off the cover", "0 of 4 10 mm bolt (cover) narrated as refitted"),
    "over": ("two ten mil bolts back in the cover", "2 10 mm bolt (cover) fitted, 0 taken off"),
    "bare": ("so seventy two forty", "was said, but no reading"),
    "again": ("on the floor on the floor on the floor on the floor", "on the floor"),
}
"""Kind, line, a part of the reason."""


def queued(*texts: str) -> dict[str, str]:
    lines = [Utterance(n, 5.0 * n, 5.0 * n + 3, text) for n, text in enumerate(texts, 1)]
    understood = list(Reader(use_model=False).read(lines))
    return {one.kind: one.reason for one in queue(understood, compile_record(understood), lines)}


@pytest.mark.parametrize("kind", TOLD)
def test_a_line_is_queued_with_its_reason(kind: str) -> None:
    line, reason = TOLD[kind]
    assert reason in queued(line)[kind]


def test_unusual_sizes_of_nuts_and_bolts_alone() -> None:
    assert "size" not in queued("two fourteen mil bolts off the bracket")
    assert "for a nut" in queued("a forty one mil nut off the hub")["size"]


def test_a_gap_and_a_faint_word_are_queued() -> None:
    faint = Utterance(1, 0.0, 3.0, "nine volts", (Word("nine", 0.0, 0.4, 0.1, None),))
    understood = list(Reader(use_model=False).read([faint]))
    found = queue(understood, compile_record(understood), [faint], [Gap(3.0, 9.0, "microphone lost")])
    reasons = {one.kind: one.reason for one in found}
    assert "unsure of “nine”" in reasons["faint"]
    assert reasons["gap"].startswith("6 s without sound: microphone lost")
