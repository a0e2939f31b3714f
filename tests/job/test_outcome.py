"""The outcome model and the ledgers of tests and suspects, on sentences that no training data holds."""

from __future__ import annotations

import pytest

from narrator.job.compile import compile_record
from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.job.outcome import masked, tone, word_features
from narrator.job.record import Record
from narrator.job.verdicts import declared
from narrator.language.cues import find_cues
from narrator.language.pipeline import pipeline
from narrator.values import Act, Understood, Utterance


def understood(*told: tuple[Act, str]) -> list[Understood]:
    """Lines with the act given, everything else as the language room reads it."""
    out = []
    for n, (act, text) in enumerate(told, start=1):
        notes = pipeline()(text)._.notes
        entities = tuple(sorted(notes.entities, key=lambda e: e.at))
        cues = tuple(find_cues(notes))
        utterance = Utterance(n, float(n), n + 1.0, text)
        out.append(Understood(utterance, text, tuple(notes.words), (act,), entities, cues))
    return out


def record(*told: tuple[Act, str]) -> Record:
    return compile_record(understood(*told))


@pytest.mark.parametrize(
    ("text", "good"),
    [
        ("the bush is tight and there is no play in it", True),
        ("the hose is cracked right through", False),
        ("pressure holds steady for ten minutes", True),
        ("no voltage at the connector", False),
        ("the filter is clean", True),
        ("the bearing is rough and it growls", False),
    ],
)
def test_tone_of_a_plain_finding(text, good):
    assert (tone(Line(understood(("result", text))[0])) > 0) is good


def test_words_in_the_reach_of_a_negation_are_told_apart():
    line = Line(understood(("result", "it does not leak but the hose is cracked"))[0])
    features = word_features(line)
    assert "n=leak" in features
    assert "n=cracked" not in features
    assert "<component>" in masked(line)


def test_a_conclusion_about_the_thing_tested_decides():
    told = record(
        ("hypothesis", "might be the alternator"),
        ("test", "meter on the alternator"),
        ("result", "no change at all"),
        ("ruled_out", "so the alternator is off the list"),
    )
    assert [t.outcome for t in told.tests] == ["pass"]
    assert [(h.component, h.status) for h in told.hypotheses] == [("alternator", "ruled_out")]


def test_check_before_any_repair_is_a_test_and_after_it_a_verification():
    told = record(
        ("hypothesis", "could be the water pump"),
        ("verification", "the water pump is dry"),
        ("confirmed", "there is our culprit the thermostat is stuck"),
        ("step", "new thermostat in"),
        ("verification", "runs at ninety and it stays there"),
    )
    assert [t.utterances for t in told.tests] == [[2]]
    assert [(v.outcome, v.utterances) for v in told.verifications] == [("pass", [5])]


def test_what_was_only_the_victim_is_cleared_and_not_settled():
    told = record(
        ("hypothesis", "might be the thermostat"),
        ("confirmed", "so the thermostat was only the victim"),
    )
    assert [h.status for h in told.hypotheses] == ["ruled_out"]


def test_something_seen_is_not_settled_without_words_that_settle():
    told = record(("confirmed", "and look the condenser fan"))
    assert told.hypotheses == []


def test_relay_socket_is_no_name_for_the_relay():
    assert likeness("relay socket", "relay") < 0.7
    assert likeness("relay", "fuel pump relay") >= 0.7


@pytest.mark.parametrize(
    ("text", "verdict"),
    [
        ("it's quiet and there's no play so the wheel bearing is good", 1.0),
        ("the alternator is fine", 1.0),
        ("the water pump is completely shot", -1.0),
        ("the wheel bearing is not good", 0.0),
        ("good thing i looked at the wheel bearing", 0.0),
    ],
)
def test_a_thing_declared_good_or_bad_by_name(text, verdict):
    assert declared(Line(understood(("result", text))[0])) == verdict


def test_a_finding_right_before_a_conclusion_is_a_test():
    told = record(
        ("hypothesis", "could be the fuel hose"),
        ("observation", "look at that the fuel hose is split the whole way round"),
        ("confirmed", "there is our culprit the fuel hose"),
        ("observation", "the paint is red"),
        ("step", "new fuel hose on"),
    )
    assert [(t.outcome, t.utterances) for t in told.tests] == [("fail", [2])]


def test_a_reading_of_another_quantity_is_a_test_of_its_own():
    told = record(
        ("hypothesis", "might be the heater"),
        ("test", "meter on the heater"),
        ("result", "twelve point four volts there"),
        ("result", "and three point two ohms across it"),
        ("result", "so it is steady"),
    )
    assert [t.utterances for t in told.tests] == [[2, 3], [4, 5]]


def test_what_is_suspected_after_a_cause_was_settled_is_looked_for_still():
    told = record(
        ("hypothesis", "i think it is the wheel bearing"),
        ("confirmed", "there it is the wheel bearing is burnt"),
        ("hypothesis", "but what cooked it could be the caliper"),
        ("step", "two half inch bolts and it goes on over the hub"),
        ("result", "the caliper moves fine on its pins"),
    )
    assert [t.utterances for t in told.tests] == [[5]]
    assert told.verifications == []


@pytest.mark.parametrize(
    ("result", "outcome"),
    [
        ("forty one psi where the book wants fifty five to sixty two psi", "fail"),
        ("sixty psi where the book wants fifty five to sixty two psi", "pass"),
        ("eighteen point three millimetres and under seventeen millimetres you throw it", "pass"),
        ("sixteen point three millimetres and under seventeen millimetres you throw it", "fail"),
    ],
)
def test_a_limit_said_in_the_same_breath_decides(result, outcome):
    told = record(("test", "now the gauge on it"), ("result", result))
    assert [t.outcome for t in told.tests] == [outcome]


def test_a_conclusion_about_the_other_side_settles_nothing_of_this_one():
    told = record(
        ("hypothesis", "one of the drains is plugged"),
        ("test", "water in the drain front right"),
        ("result", "gone at once, it is clean and it flows perfectly"),
        ("confirmed", "so the front left drain is plugged"),
    )
    assert told.tests[0].outcome == "pass"


@pytest.mark.parametrize(
    ("text", "good"),
    [("it isn't cracked", True), ("there's no leak at the union", True), ("it is cracked", False)],
)
def test_a_bad_state_denied_is_good(text, good):
    assert (tone(Line(understood(("result", text))[0])) > 0) is good


def test_words_that_call_the_thing_finished_condemn_it_whatever_the_line_does():
    told = record(
        ("hypothesis", "could be the relay"),
        ("test", "meter on the exit of the relay"),
        ("result", "it comes and it goes"),
        ("ruled_out", "so the relay is finished"),
    )
    assert told.tests[0].outcome == "fail"


def test_a_thing_named_first_is_checked_apart_from_what_had_no_name():
    told = record(
        ("hypothesis", "perhaps it is running hot"),
        ("result", "two fingers below the line and that is acceptable"),
        ("result", "fan belt i press with the thumb and it is tight"),
    )
    assert [t.utterances for t in told.tests] == [[2], [3]]


@pytest.mark.parametrize(
    ("said", "follows", "outcome"),
    [
        ("strap is green and half of it is broken", "so the alternator is fine, it is the strap", "fail"),
        ("strap is clean and the strands are whole", "so the strap is fine, it is the alternator", "pass"),
    ],
)
def test_a_conclusion_counts_for_the_thing_that_it_tells_of(said, follows, outcome):
    told = record(
        ("hypothesis", "could be the alternator or the strap"), ("result", said), ("ruled_out", follows)
    )
    assert [t.outcome for t in told.tests] == [outcome]


@pytest.mark.parametrize(
    ("text", "good"),
    [("the tester shows green", True), ("all green", True), ("the strap is green", False)],
)
def test_green_is_good_of_a_light_alone(text, good):
    assert ("polarity.good" in {cue.name for cue in understood(("result", text))[0].cues}) == good
