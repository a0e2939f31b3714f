"""Readings against what they should be, on sentences that no narration holds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from narrator.job.bare_numbers import bare_numbers
from narrator.job.compile import compile_record
from narrator.job.findings import against_limit
from narrator.job.line import Line
from narrator.job.record import Record
from narrator.language.reader import Reader
from narrator.values import Utterance
from tests.job.test_outcome import record, understood


def _line(text: str) -> Line:
    """As read in a session, which supplies the units left unsaid."""
    return Line(next(iter(Reader(use_model=False).read([Utterance(1, 1.0, 2.0, text)]))))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("sixty bar and the book has ninety", -1.0),
        ("so the discs are scrap", -1.0),
        ("both low", -1.0),
        ("so pads needed", -1.0),
        ("nothing needs doing there", None),
        ("the discs aren't scrap", None),
        ("so that passes", 1.0),
        ("they're borderline but they'll do", 1.0),
        ("so it's getting its feed", 1.0),
        ("so no fuel getting to it", -1.0),
        ("it goes all the way down", None),
        ("one millimetre of lining and two millimetres is the limit", -1.0),
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
        ("96 millimetres in ten minutes and the maker tolerates 25", -1.0),
        ("the toe is four millimetres when it wants to be two", -1.0),
        ("it falls to nine point four volts while below ten volts it must give up", -1.0),
        ("seventeen millimetres limit say under eighteen millimetres", 1.0),
        ("sixty thou of slop and the book only gives her five", -1.0),
        ("fourteen point one volts and it should be fourteen point four volts", 1.0),
        ("thirteen volts and it should be fourteen point four volts", -1.0),
        ("six hundred and forty milliamps when it should be more like twenty milliamps", -1.0),
        ("twenty one milliamps when it should be more like twenty milliamps", 1.0),
        ("thirty one volts and it should be twenty eight point four volts", -1.0),
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


def test_what_it_should_be_may_stand_in_the_set_up():
    set_up = _line("ruler on it and the gap must be between five and fifteen millimetres")
    assert against_limit(_line("it's nine and it shows speed"), [set_up]) == 1.0
    assert against_limit(_line("it's thirty two and it shows nothing"), [set_up]) == -1.0


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("1.8 and then twenty six", [1.8, 26.0]),
        ("it reads three point two five", [3.25]),
        ("the good one has twelve volts", []),
    ],
)
def test_numbers_that_no_entity_holds(text, values):
    assert [n.value for n in bare_numbers(_line(text))] == values


def test_a_set_up_that_looks_like_a_result_waits_for_the_next_line():
    told = compile_record(
        [
            replace(one, acts=("test", "result") if n == 0 else one.acts)
            for n, one in enumerate(
                understood(
                    ("test", "a thousand kilos up and a chalk mark on the mast"),
                    ("result", "96 millimetres down and the maker tolerates 25 millimetres"),
                )
            )
        ]
    )
    assert [(t.utterances, t.outcome) for t in told.tests] == [([1, 2], "fail")]


@pytest.mark.parametrize(
    ("said", "outcome"),
    [
        ("measured the pads, two mil left and three is the minimum", "fail"),
        ("measured the pads, seven mil left and three is the minimum", "pass"),
        ("put the meter on it, draws three hundred milliamps, no more than fifty allowed", "fail"),
        ("put the meter on it, draws thirty milliamps, never more than fifty", "pass"),
        ("measured the belt, eight mil wide, not less than ten", "fail"),
        ("measured the belt, twelve mil wide, not less than ten", "pass"),
        ("compression test, cylinder two is only sixty psi when it wants to be up around one fifty", "fail"),
        ("gauge says one bar, it can go up to two", "pass"),
        ("leak down test, forty percent, you'd throw it away at twenty", "fail"),
        ("pads are at four, you'd bin them at two", "pass"),
        ("pads are at one mil, you'd bin them at two", "fail"),
        ("pressure gauge shows nothing like what it should, four bar instead of twelve", "fail"),
        ("rail pressure is nowhere near where it should be", "fail"),
        ("rail pressure is right where it should be", "pass"),
        ("charging voltage is half what it should be", "fail"),
        ("drop across the ground is point eight volts, that's way over the point two you're allowed", "fail"),
        ("runout is six thou, that's more than the two thou allowed", "fail"),
        ("runout is six thou, that's not over the ten thou limit", "pass"),
        ("drop across the ground is point one volts, well within the point two you're allowed", "pass"),
        ("pads are four mil, that's above the two mil minimum", "pass"),
        ("motor draws eight amps, max is six point five", "fail"),
        ("blower's pulling six point two amps, rated seven", "pass"),
        ("bearing clearance is three thou, limit's two and a half", "fail"),
        ("valve guide play is excessive", "fail"),
        ("put the tester on it, battery failed the load test", "fail"),
        ("tested the pump and it failed the test", "fail"),
        ("the sensor reads one point two k, like the right one", "pass"),
        ("the sensor reads one point two k, nothing like the right one", "fail"),
        ("motor draws eight amps, maximum six point five", "fail"),
        ("motor draws five amps, max six point five", "pass"),
        ("motor draws eight amps, nameplate says six point five", "fail"),
        ("motor draws five amps, nameplate says six point five", "pass"),
        ("rotor is twenty one mil, minimum twenty two", "fail"),
        ("rotor is twenty three mil, minimum twenty two", "pass"),
        ("spark's good, fuel's good, no compression", "fail"),
        ("no power at the pump connector, good ground", "fail"),
        ("no drop across the fuse", "pass"),
    ],
)
def test_limits_as_they_are_said(said: str, outcome: str) -> None:
    """Sentences of our own; common practice, no source."""
    told = ["it won't start when it is cold", "could be the pump or the sensor", said]
    spoken = [Utterance(n, 6.0 * n, 6.0 * n + 5.0, text) for n, text in enumerate(told, start=1)]
    made = compile_record(Reader().read(spoken))
    assert [test.outcome for test in made.tests][-1:] == [outcome]
