"""What a line puts under suspicion and what clears it: invented sentences, acts given."""

from __future__ import annotations

from dataclasses import replace

import pytest

from narrator.job.compile import compile_record
from narrator.job.naming import likeness
from narrator.job.record import Record
from narrator.values import Act
from tests.job.test_outcome import record, understood


def suspects(told: Record) -> dict[str | None, str]:
    return {row.component: row.status for row in told.hypotheses}


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("could be the relay or maybe the relay socket", {"relay", "relay socket"}),
        ("the thermostat's my first guess the radiator fan never comes on", {"thermostat"}),
        ("maybe the fuel pump wears when the tank runs dry", {"fuel pump"}),
        ("or it is an air pocket because they did not bleed it", {"air pocket"}),
        ("either the gasket or the flange is warped", {"gasket", "flange"}),
    ],
)
def test_only_what_is_joined_by_or_is_suspected(text: str, names: set[str]) -> None:
    assert set(suspects(record(("hypothesis", text)))) == names


@pytest.mark.parametrize("act", ["result", "hypothesis", "observation", "ruled_out"])
def test_a_thing_called_good_by_name_is_cleared_whatever_the_line_does(act: Act) -> None:
    told = record(
        ("hypothesis", "i think it's the alternator"),
        (act, "so the alternator is fine and i'd have bet money on it"),
    )
    assert suspects(told)["alternator"] == "ruled_out"


def test_a_plan_or_a_complaint_clears_nothing() -> None:
    said = "tell him the alternator is fine for now"
    for act in ("plan", "concern"):
        told = record(("hypothesis", "i think it's the alternator"), (act, said))
        assert suspects(told)["alternator"] == "open"


def test_what_was_only_half_of_it_stays_settled() -> None:
    told = record(
        ("confirmed", "found it the tank vent is blocked"),
        ("ruled_out", "so the vent was blocked all right but that's only the half of it"),
    )
    assert suspects(told)["tank vent"] == "confirmed"


def test_a_settled_cause_is_not_doubted_by_a_guess_about_the_work() -> None:
    told = record(
        ("hypothesis", "maybe the coupling"),
        ("confirmed", "that's the one the coupling is stripped"),
        ("hypothesis", "did i put the coupling on back to front"),
    )
    assert suspects(told)["coupling"] == "confirmed"


def test_a_part_of_a_cleared_thing_is_a_suspect_of_its_own() -> None:
    told = record(
        ("hypothesis", "then the blend door actuator"),
        ("ruled_out", "so the actuator is fine"),
        ("confirmed", "that's it the blend door has snapped"),
    )
    assert suspects(told) == {"blend door actuator": "ruled_out", "blend door": "confirmed"}


def test_wiring_by_another_name_is_the_same_suspect() -> None:
    assert likeness("harness", "wiring") >= 0.7
    assert likeness("loom", "wiring") >= 0.7
    told = record(("hypothesis", "so the wiring in the wheel arch"), ("ruled_out", "so it's not the harness"))
    assert suspects(told) == {"wiring": "ruled_out"}


def test_a_plan_to_order_a_new_part_puts_it_on_the_list_of_parts() -> None:
    told = record(("plan", "i still have to order new brake pads"), ("plan", "look at the brake pads later"))
    assert [(row.name, row.state) for row in told.parts] == [("brake pad", "needed")]


def test_cleaning_a_thing_makes_no_part_of_it() -> None:
    told = compile_both("clean the bracket and grease both pins")
    assert not told.parts


def compile_both(text: str) -> Record:
    """A line that the act model took for work and for a part at once."""
    (line,) = understood(("step", text))
    return compile_record([replace(line, acts=("step", "part"))])


def test_work_that_a_test_needs_does_not_end_it() -> None:
    told = record(
        ("hypothesis", "it could be the ignition coil"),
        ("test", "i'll swap the ignition coil with the one from cylinder one"),
        ("step", "two eight mil bolts out for the coils"),
        ("step", "coils are swapped and both bolts back in"),
        ("verification", "ran it again and the misfire is still on cylinder three"),
        ("ruled_out", "it didn't move so the ignition coil is ruled out"),
    )
    assert [(row.outcome, row.utterances) for row in told.tests] == [("pass", [2, 5])]
    assert not told.verifications


def test_the_upper_one_is_not_the_lower_one() -> None:
    assert likeness("upper slide pin", "lower slide pin") == 0.0
    assert likeness("slide pin", "lower slide pin") >= 0.7
    told = record(
        ("result", "upper slide pin moves free"),
        ("result", "the lower slide pin is stuck solid"),
    )
    assert [row.component for row in told.tests] == ["upper slide pin", "lower slide pin"]


def test_a_torque_set_and_a_road_driven_are_none_of_the_tests() -> None:
    told = record(
        ("test", "spin the wheel bearing by hand"),
        ("result", "there is two thou of play"),
        ("step", "torque those to thirty five newton metres"),
        ("verification", "road test ten miles"),
    )
    assert [(row.unit, row.component) for row in told.measurements] == [
        ("in", "wheel bearing"), ("N.m", None), ("mi", None),
    ]  # fmt: skip
