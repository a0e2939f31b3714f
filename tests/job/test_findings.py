"""Readings against what they should be, on sentences that no narration holds."""

from __future__ import annotations

import pytest

from narrator.job.findings import against_limit
from narrator.job.line import Line
from narrator.job.record import Record
from narrator.language.reader import Reader
from narrator.values import Utterance
from tests.job.test_outcome import record


def _line(text: str) -> Line:
    """As read in a session, which supplies the units left unsaid."""
    return Line(next(iter(Reader(use_model=False).read([Utterance(1, 1.0, 2.0, text)]))))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("sixty bar and the book has ninety", -1.0),
        ("eighty eight bar and the book says ninety", 1.0),
        ("i get forty bar where the manual wants seventy", -1.0),
        ("it draws nine amps in place of four", -1.0),
        ("twelve volts and it should be under one volt", -1.0),
        ("three amps and the manual permits five amps", 1.0),
        ("fifty ohms and healthy is about ten ohms", -1.0),
        ("seventy bar and it's to be forty bar", -1.0),
        ("sixteen bar and i'd want twenty at the very least", -1.0),
        ("it sits there and it should drop straight away", -1.0),
        ("the two of them ought to be equal", -1.0),
        ("it closes where it should", 1.0),
        ("does just what it's supposed to", 1.0),
        ("two bar and that's what's on the plate", 1.0),
        ("it turns freely both ways", None),
        ("two millimetres and the limit is three millimetres", None),
    ],
)
def test_a_reading_against_what_it_should_be(text, said):
    assert against_limit(_line(text)) == said


def test_the_reading_may_stand_in_the_line_before():
    earlier = _line("it gives eighteen bar")
    assert against_limit(_line("well the book has thirty bar"), [earlier]) == -1.0
    assert against_limit(_line("well the book has thirty bar"), []) is None


def _outcomes(told: Record) -> list[str]:
    return [t.outcome for t in told.tests]


def test_what_the_book_has_decides_a_test():
    told = record(
        ("hypothesis", "could be the lift pump"),
        ("test", "gauge on the lift pump"),
        ("result", "four bar and the book has nine bar"),
    )
    assert _outcomes(told) == ["fail"]


def test_work_after_a_result_is_not_of_the_test():
    told = record(
        ("hypothesis", "could be the lift pump"),
        ("test", "gauge on the lift pump"),
        ("result", "nine bar and it holds steady"),
        ("step", "lift pump out and it is rusty underneath"),
    )
    assert told.tests[0].utterances == [2, 3]
