"""The network's word on fasteners that move is evidence beside that of the rules; shares are given here."""

from __future__ import annotations

from narrator.job.fasteners import FastenerLedger
from narrator.job.line import Line
from narrator.values import Fastener, Size, Understood, Utterance

TEN = Size(10.0, "mm")


def line(text: str, moves: tuple[float, float] | None, *acts: str, start: int = 0) -> Line:
    """A line that names two 10 mm bolts by the three words from ``start`` on."""
    words = tuple(text.split())
    bolts = Fastener(span=(0, 1), at=(start, start + 3), rule="test", kind="bolt", count=2, size=TEN)
    return Line(
        Understood(
            Utterance(1, 0.0, 3.0, text), text, words, acts=acts or ("step",), entities=(bolts,),
            moves=() if moves is None else (moves,) * len(words),
        )  # type: ignore[arg-type]
    )  # fmt: skip


def totals(*lines: Line) -> list[tuple[int, int]]:
    ledger = FastenerLedger()
    for one in lines:
        ledger.read(one)
    return [(row.removed, row.installed) for row in ledger.rows()]


def test_without_a_word_of_motion_the_network_tells() -> None:
    told = "two ten bolts and the sensor is safe"
    assert totals(line(told, (0.95, 0.0), "observation")) == [(2, 0)]
    assert totals(line(told, (0.0, 0.0), "observation")) == []
    assert totals(line(told, None, "observation")) == []


def test_plain_words_outweigh_the_network() -> None:
    assert totals(line("two ten bolts out of the cover", (0.2, 0.75))) == [(2, 0)]


def test_what_was_only_loosened_is_no_event_whatever_the_network_says() -> None:
    assert totals(line("two ten bolts loosened a turn", (0.95, 0.0))) == []
