"""What no trained score may overrule."""

from __future__ import annotations

import numpy as np
import pytest

from narrator.language import Reader
from narrator.language.acts import ActReader, act_rules, by_model, enforce
from narrator.language.pipeline import pipeline
from narrator.language.tokens import Notes
from narrator.values import ACTS, Utterance


def notes(text: str) -> Notes:
    found: Notes = pipeline()(text)._.notes
    return found


def scores(**given: float) -> np.ndarray:
    return np.array([given.get(act, 0.0) for act in ACTS], np.float32)


def test_hedged_talk_never_settles_a_cause() -> None:
    decision = by_model(notes("um i reckon it's the fuel pump"), scores(confirmed=0.9))
    assert decision.acts == ("hypothesis",)
    assert decision.why["hypothesis"] == "confirmed.hedged"
    assert by_model(notes("found it it's the fuel pump"), scores(confirmed=0.9)).acts == ("confirmed",)


def test_a_bare_vin_does_nothing_whatever_the_model_says() -> None:
    vin = "ZY9PH2B4XBT107362"  # invented, its check digit agrees
    for text in (f"V i n is {vin}.", f"vin number {vin}", vin):
        assert by_model(notes(text), scores(concern=0.9)).acts == ()
    told = notes(f"vin {vin} and it stalls at the lights")
    assert by_model(told, scores(concern=0.9)).acts == ("concern",)


def test_what_the_clock_shows_and_nothing_more_is_no_concern() -> None:
    for text in (
        "mileage is eighty one thousand",
        "one hundred and four thousand two hundred on the clock",
        "so she's got 210,000 miles on her",
    ):
        assert by_model(notes(text), scores(concern=0.9, result=0.5)).acts == ("observation",)
    for text in (
        "mileage is eighty one thousand and it stalls at the lights",
        "eighty thousand miles, noisy at idle",
        "eighty one thousand on the clock and the pump leaks",
    ):
        assert by_model(notes(text), scores(concern=0.9)).acts == ("concern",)


@pytest.mark.parametrize("clock", ["eighty one thousand on the clock and", "eighty one thousand miles,"])
@pytest.mark.parametrize(
    "told", ["it pulls left", "the gearbox whines", "no heat in the cab", "it's losing oil"]
)
def test_a_complaint_told_with_the_clock_is_the_concern_before_work_begins(clock: str, told: str) -> None:
    line = Utterance(1, 0.0, 4.0, f"{clock} {told}")
    (read,) = Reader().read([line])
    assert "concern" in read.acts


def test_what_is_told_with_the_clock_after_a_test_is_no_concern() -> None:
    texts = (
        "load test on the battery it holds ten volts",
        "eighty one thousand on the clock and it pulls left",
    )
    read = list(Reader().read(Utterance(n, n * 5.0, n * 5.0 + 4, text) for n, text in enumerate(texts)))
    assert "test" in read[0].acts and "concern" not in read[1].acts


def test_an_absence_is_a_finding_and_settles_nothing() -> None:
    whole = "so there's no pressure trapped in the hose that rules out the brake hose"
    assert "confirmed" not in by_model(notes(whole), scores(confirmed=0.9)).acts
    text = "So there's no pressure trapped in the hose."
    assert by_model(notes(text), scores(confirmed=0.9)).acts == ("result",)


def test_what_is_cleared_by_name_is_cleared_whatever_else_the_line_tells() -> None:
    for text in ("pressure is up so there's no burnt valve", "it's clean so it isn't the air flow sensor"):
        assert by_model(notes(text), scores(result=0.9)).acts == ("ruled_out",)
    for text in ("that rules out the brake hose", "so it isn't the pump"):
        assert by_model(notes(text), scores(confirmed=0.9)).acts == ("ruled_out",)
    assert by_model(notes("so is it not the air flow sensor"), scores(hypothesis=0.9)).acts == ("hypothesis",)


def test_what_is_suspected_or_settled_by_name_outweighs_the_model() -> None:
    for text in (
        "so i think a naked wire touching the switch",
        "could be a blocked filter",
        "or it's the relay or the fuse",
    ):
        assert by_model(notes(text), scores(result=0.9)).acts == ("hypothesis",)
    for text in ("there's your culprit the wheel bearing", "there you go then it is the switch"):
        assert by_model(notes(text), scores(hypothesis=0.9)).acts == ("confirmed",)
    for text in ("so it's not short of oil", "if that's your culprit the wheel bearing we'll see"):
        assert "confirmed" not in by_model(notes(text), scores(result=0.9)).acts


def test_idioms_that_clear_show_or_bring_back_outweigh_the_model() -> None:
    for text in (
        "the bilge pump gets to live another season",
        "the regulator does what it's told",
        "the impeller can stay where it is",
        "nothing amiss in the motor",
        "the fuse isn't the trouble it only tells me of it",
        "okay it ain't the crank sensor i guess",
    ):
        assert by_model(notes(text), scores(hypothesis=0.9)).acts == ("ruled_out",)
    for text in (
        "so here is our drunkard the cooler is cracked",
        "the thief of the mornings is the winch cable",
        "it was the heating element all along",
    ):
        assert by_model(notes(text), scores(hypothesis=0.9)).acts == ("confirmed",)
    for text in ("so the cylinder is back on the list", "so the tap isn't off my list after all"):
        assert by_model(notes(text), scores(ruled_out=0.9)).acts == ("hypothesis",)
    assert "confirmed" not in by_model(notes("there are your two bolts"), scores(step=0.9)).acts


def test_codes_cleared_clear_no_suspect() -> None:
    for text in ("codes are cleared let's go for a drive", "i cleared both codes"):
        assert by_model(notes(text), scores(ruled_out=0.9)).acts == ("step",)
        assert by_model(notes(text), scores(ruled_out=0.6, verification=0.5)).acts == ("verification",)
    assert by_model(notes("i cleared the codes so it's not the coil"), scores(ruled_out=0.9)).acts == (
        "ruled_out",
    )


def test_nothing_verifies_a_repair_before_any_work() -> None:
    reader = ActReader()
    check = notes("battery reads twelve point six volts")
    assert reader._in_order(check, scores(verification=0.9)).acts == ("result",)
    assert reader._in_order(notes("fitted the new relay"), scores(step=0.9)).acts == ("step",)
    assert reader._in_order(check, scores(verification=0.9)).acts == ("verification",)


def test_a_line_does_one_thing_unless_a_second_is_likely_by_itself() -> None:
    said = notes("then the bracket")
    assert by_model(said, scores(step=0.9, verification=0.45)).acts == ("step",)
    assert by_model(said, scores(step=0.9, caution=0.65)).acts == ("step", "caution")
    assert by_model(said, scores(aside=0.9, step=0.7)).acts == ("aside",)


def test_a_check_told_with_what_it_gave_is_a_result_too() -> None:
    said = notes("hand pump on it and it holds")
    assert by_model(said, scores(test=0.9, result=0.35)).acts == ("test", "result")
    assert by_model(said, scores(test=0.9, result=0.1)).acts == ("test",)
    assert by_model(said, scores(step=0.9, result=0.35)).acts == ("step",)


def test_every_final_rule_asks_for_something_and_is_met_where_it_is_said() -> None:
    for rule in (rule for rule in act_rules() if rule.final):
        asked = set(rule.every) or {min(rule.any)}  # lines without any of these are not held against it
        assert rule.act in enforce({"observation": ""}, asked), rule.id
