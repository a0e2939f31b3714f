"""Where one test ends and the next begins, and tests told in other remarks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from narrator.job.compile import compile_record
from narrator.job.record import Record
from narrator.language.reader import Reader
from narrator.values import Act, Utterance
from tests.job.test_outcome import understood


def _record(*told: tuple[tuple[Act, ...], str]) -> Record:
    """A job of remarks that may do several things at once."""
    lines = understood(*((acts[0], text) for acts, text in told))
    return compile_record(replace(one, acts=acts) for one, (acts, _) in zip(lines, told, strict=True))


@pytest.mark.parametrize(
    ("second", "own"),
    [
        ("oh but the earth strap, i pull and the screw turns", True),
        ("and the contacts are shiny when i push", True),
        ("well the fuse sits there like new", True),
        ("and it goes no lower under load", False),
    ],
)
def test_a_result_that_begins_with_another_thing_is_a_test_of_its_own(second, own):
    told = _record(
        (("hypothesis",), "could be the battery"),
        (("test", "result"), "out of the frame the battery gives thirty nine volts"),
        (("result",), second),
    )
    assert [t.utterances for t in told.tests] == ([[2], [3]] if own else [[2, 3]])


def test_putting_back_is_no_test_whatever_is_cleared_next():
    told = _record(
        (("hypothesis",), "maybe the earth wire"),
        (("step",), "both of the sixteens back on and a good smear of grease"),
        (("ruled_out",), "so it is not the earth wire"),
    )
    assert not told.tests


@pytest.mark.parametrize(
    ("work", "drawn"),
    [
        ("one wing nut and the filter is grey but a lamp shines through", "so the filter strangles nobody"),
        ("cap off and the rotor looks like new", "then the rotor can stay"),
    ],
)
def test_work_that_tells_the_state_of_what_is_cleared_next_is_a_test(work, drawn):
    told = _record(
        (("hypothesis",), "first the filter or the rotor"), (("step",), work), (("ruled_out",), drawn)
    )
    assert [t.utterances for t in told.tests] == [[2]]


def test_a_conclusion_told_with_its_reading_is_a_test():
    told = _record((("ruled_out",), "nine kilohms at the pins so it's not the wire"))
    assert [t.utterances for t in told.tests] == [[1]]
    assert not _record((("ruled_out",), "so it's not the wire")).tests


def test_something_seen_and_held_against_what_it_should_be_is_a_test():
    told = _record(
        (("observation",), "four millimetres of lining on the pad"),
        (("observation",), "seven millimetres is the least"),
        (("result",), "so pads needed"),
    )
    assert [(t.utterances, t.outcome) for t in told.tests] == [([1, 2, 3], "fail")]


def test_something_seen_and_held_against_nothing_is_none():
    assert not _record((("observation",), "there's four millimetres of mud on the pad")).tests


def test_a_conclusion_that_clears_two_things_is_no_test_of_its_own():
    told = _record(
        (("hypothesis",), "might be the pump or the regulator"),
        (("test", "result"), "gauge on the rail and fifty two psi"),
        (("ruled_out",), "so pump and regulator are good"),
    )
    assert [t.utterances for t in told.tests] == [[2]]


def test_what_dies_when_it_is_wiggled_is_found_bad():
    told = _record((("step",), "tapped the relay and it came back"))
    assert [(t.component, t.outcome) for t in told.tests] == [("relay", "fail")]


def test_what_is_called_scrap_is_cleared_by_nothing():
    said = [
        "could be the discs or the pads",
        "disc measures twenty one millimetres, minimum's twenty two",
        "so discs are scrap",
    ]
    told = compile_record(
        list(Reader().read([Utterance(n, n * 8.0, n * 8 + 6, s) for n, s in enumerate(said)]))
    )
    assert [t.outcome for t in told.tests] == ["fail"]
    assert [(s.component, s.status) for s in told.hypotheses] == [("disc", "open"), ("pad", "open")]


@pytest.mark.parametrize(
    ("told", "outcome"),
    [
        ("track rod ends are tight, no play at all", "pass"),
        ("bottom ball joints solid", "pass"),
        ("loads of play in the left wheel bearing", "fail"),
        ("spark's nice and blue so ignition's good", "pass"),
    ],
)
def test_what_was_felt_for_or_drawn_from_what_was_seen_is_a_test(told, outcome):
    assert [t.outcome for t in _record((("observation",), told)).tests] == [outcome]


@pytest.mark.parametrize("told", ["there's play money in the ashtray", "the bearing is solid with rust"])
def test_what_only_sounds_like_it_is_none(told):
    assert not any(t.outcome == "pass" for t in _record((("observation",), told)).tests)


def test_one_check_of_several_things_is_a_test_of_each():
    told = _record(
        (("test",), "annual check on it"),
        (("result",), "lift chain measures two percent and three is the limit"),
        (("result",), "forks are thin but they'll do"),
    )
    assert [(t.component, t.outcome) for t in told.tests] == [("lift chain", "pass"), ("fork", "pass")]
