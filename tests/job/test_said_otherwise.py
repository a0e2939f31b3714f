"""Blame, doubt and readings in other words than the usual: sentences that no narration holds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from narrator.job.compile import compile_record
from narrator.job.findings import against_limit
from narrator.language.reader import Reader
from narrator.values import ACTS, Utterance
from tests.job.test_checks import _record
from tests.job.test_findings import _line
from tests.job.test_outcome import record, understood
from tests.job.test_suspicion import suspects


def _acts(text: str) -> tuple[str, ...]:
    return next(iter(Reader(use_model=False).read([Utterance(1, 1.0, 2.0, text)]))).acts


@pytest.mark.parametrize(
    "text",
    [
        "so it were the gasket robbing her all along",
        "i can safely say the regulator is our trouble",
        "the earth strap is to blame",
        "the blame lies with the regulator and it was new",
        "it was the relay that did it",
        "the thermostat is behind all this",
    ],
)
def test_blame_laid_on_a_thing_by_name_settles_it(text):
    assert "confirmed" in _acts(text)
    assert "ruled_out" not in _acts(text)


@pytest.mark.parametrize(
    "text",
    [
        "if the earth strap is to blame the lamp will dim",
        "i reckon the regulator is our trouble",
        "the regulator is not the culprit",
        "the pump was fine all along",
    ],
)
def test_blame_that_is_doubted_or_denied_settles_nothing(text):
    assert "confirmed" not in _acts(text)


@pytest.mark.parametrize(
    "text",
    [
        "with a hot cylinder you'd blame the thermostat first",
        "anybody would say the thermostat",
        "everyone would swear it's the thermostat",
    ],
)
def test_what_anybody_would_say_is_a_suspicion(text):
    assert _acts(text) == ("hypothesis",)


@pytest.mark.parametrize(
    ("text", "names"),
    [
        (
            "low coolant but a stuck thermostat would look the same so both go on the list",
            {"coolant", "thermostat"},
        ),
        (
            "a torn belt would do it and a slack tensioner as well so both are on my list",
            {"belt", "tensioner"},
        ),
        ("the relay sticks or the switch does either would give that", {"relay", "switch"}),
        ("elevated head pressure points me toward the condenser", {"condenser"}),
        ("then it's the run from the relay", set()),
        ("then it's the stretch behind the relay", set()),
        ("it might be starved afore the pump with summat stopping it", set()),
    ],
)
def test_what_a_line_suspects_in_other_words(text, names):
    assert set(suspects(record(("hypothesis", text)))) == names


def test_talk_after_the_cure_was_checked_clears_nothing():
    told = record(
        ("hypothesis", "could be the relay"),
        ("confirmed", "it's the relay"),
        ("step", "new relay in"),
        ("verification", "and it runs like new"),
        ("ruled_out", "i got to use the thermostat so that counts as a good day"),
    )
    assert suspects(told) == {"relay": "confirmed"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("forty bar where i'd expect ninety bar", -1.0),
        ("eighty eight bar and you would expect ninety bar", 1.0),
        ("nine amps and i was hoping for four amps", -1.0),
        ("2.1 volts and i don't like more than 0.3 volts", -1.0),
        ("0.1 volts and i don't like more than 0.3 volts", 1.0),
        ("six bar and i won't accept less than eight bar", -1.0),
    ],
)
def test_a_reading_against_what_was_expected(text, said):
    assert against_limit(_line(text)) == said


def test_a_reading_between_other_places_and_the_other_side_are_tests_of_their_own():
    told = _record(
        (("test", "result"), "from the engine block to the post while it cranks 2.1 volts"),
        (("result",), "from the body to that same post it's only 0.1 volts so that's fine"),
    )
    assert [t.utterances for t in told.tests] == [[1], [2]]
    told = _record(
        (("hypothesis",), "could be the rollers"),
        (("test",), "turn the rollers by hand"),
        (("result",), "right roller spins and goes on spinning"),
        (("result",), "left a quarter turn and it stops dead"),
    )
    assert [t.utterances for t in told.tests] == [[2, 3], [4]]


def test_a_complaint_right_behind_a_suspicion_from_which_a_cause_is_drawn_is_a_test():
    told = _record(
        (("hypothesis",), "first i'd blame the engine mount"),
        (("concern",), "i put a lever to it and it's torn clean through"),
        (("confirmed",), "there it is the engine mount is finished"),
    )
    assert [(t.utterances, t.outcome) for t in told.tests] == [([2], "fail")]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("fifty point one volts and i'd want fifty point nine volts", -1.0),
        ("fourteen point nine millimetres and it must be fourteen point two millimetres", -1.0),
        ("dial left 0.08 mm right 0.34 mm and the limit it is 0.30 mm", -1.0),
        ("twenty one volts and thirteen and a half volts is maximum", -1.0),
        ("four and a half bar and the book wants three bar to five", 1.0),
    ],
)
def test_a_value_barely_missed_and_a_range_told_short(text, said):
    assert against_limit(_line(text)) == said


@pytest.mark.parametrize(
    "said", ["and that doesn't prove a thing", "but i'd not swear to it", "so that tells me nowt"]
)
def test_a_result_that_settles_nothing_is_inconclusive(said):
    told = record(
        ("hypothesis", "could be the governor"),
        ("test", "feel it by the lever"),
        ("result", f"smooth enough {said}"),
    )
    assert [t.outcome for t in told.tests] == ["inconclusive"]


@pytest.mark.parametrize(("score", "tests"), [(0.2, [[1, 2]]), (0.9, [[1], [2]])])
def test_a_set_up_that_hardly_gave_anything_waits_for_its_result(score, tests):
    told = understood(
        ("test", "the dial on the hub and i push and pull it good and solid"),
        ("result", "the wheel bearing rattles"),
    )
    likely = tuple(score if act == "result" else 0.9 if act == "test" else 0.0 for act in ACTS)
    told[0] = replace(told[0], acts=("test", "result"), likely=likely)
    assert [t.utterances for t in compile_record(told).tests] == tests
