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
        ("could be the speed sensor because the wheel was off", {"speed sensor"}),
        ("it's a false alarm so i suspect the oil pressure switch", {"oil pressure switch"}),
        ("so maybe the needle valve or else the float sank", {"needle valve", "float"}),
        ("it could be air in the line or the master cylinder", {"air", "master cylinder"}),
        ("that or it's running short of oil", {"oil"}),
        ("what could make the brake pedal pulse could be the disc", {"disc"}),
        ("then it is not reaching the injector maybe the fuse", {"fuse"}),
        ("so something is loose between the handle and the latch", set()),
        ("then the torque sensor in the bottom bracket maybe they do not like the jet", {"torque sensor"}),
        ("i think it is inside the fuse box or the relay on it", {"fuse box", "relay"}),
        (
            "no brakes could be the controller could be the breakaway switch",
            {"controller", "breakaway switch"},
        ),
        ("a click and no winch is the battery or the solenoid", {"battery", "solenoid"}),
        (
            "that leaves the seal, the check valve behind the pump, and the relief valve",
            {"seal", "check valve", "relief valve"},
        ),
        ("it will not go so the belt or the roller", {"belt", "roller"}),
        ("it could be the pump or air in the line", {"pump", "air"}),
        ("my first thought is mud in the wheel", {"mud"}),
        ("or some clever person has played with it", set()),
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


def test_what_is_not_proven_is_not_cleared() -> None:
    told = record(
        ("hypothesis", "maybe the abs module"),
        ("ruled_out", "it looks clean but i have no proof for the abs module"),
    )
    assert suspects(told) == {"abs module": "open"}


def test_a_clearing_without_a_name_is_of_what_is_on_the_table() -> None:
    told = record(("hypothesis", "maybe the thermostat"), ("ruled_out", "it never stuck once"))
    assert suspects(told) == {"thermostat": "ruled_out"}
    told = record(("hypothesis", "maybe the thermostat"), ("ruled_out", "so it's not that"))
    assert suspects(told) == {"thermostat": "ruled_out"}


def test_neither_clears_both() -> None:
    told = record(
        ("hypothesis", "could be the strainer or the pickup hose"),
        ("ruled_out", "neither of them two then"),
    )
    assert suspects(told) == {"strainer": "ruled_out", "pickup hose": "ruled_out"}


def test_how_a_cause_did_it_and_how_it_came_about_are_no_causes() -> None:
    told = record(
        ("confirmed", "that's it the tank vent hose is pinched"),
        ("confirmed", "strap tight no air simple as that"),
        ("hypothesis", "somebody must've trapped it fitting the seat"),
    )
    assert suspects(told) == {"tank vent hose": "confirmed"}


def test_what_the_cause_damaged_is_no_cause() -> None:
    told = record(
        ("confirmed", "there's your problem the top mount is shot"),
        ("confirmed", "no wait the spring is broken that's the culprit and it's been tearing the top mount"),
    )
    assert suspects(told) == {"top mount": "ruled_out", "spring": "confirmed"}


def test_a_thing_by_its_last_word_is_the_suspect_that_no_list_knows() -> None:
    told = record(
        ("hypothesis", "it could be a leaky bladder"),
        ("ruled_out", "the bladder is well shut then i leave it"),
    )
    assert suspects(told) == {"bladder": "ruled_out"}


def test_alternatives_and_things_called_strong_settle_nothing() -> None:
    told = record(("hypothesis", "maybe the fuel pump"), ("confirmed", "so the fuel pump is still strong"))
    assert suspects(told) == {"fuel pump": "ruled_out"}


def test_a_settled_cause_stays_until_words_clear_it() -> None:
    told = record(
        ("confirmed", "that's the culprit the shaft is bent"),
        ("ruled_out", "and a bent shaft kicks the belt sideways"),
    )
    assert suspects(told)["shaft"] == "confirmed"
    told = record(
        ("confirmed", "there we have it the axle seal leaks"),
        ("ruled_out", "the old fluff is only the victim"),
    )
    assert suspects(told) == {"axle seal": "confirmed"}


def test_where_the_cause_was_poured_in_is_no_cause() -> None:
    told = record(("confirmed", "this is the cause somebody poured muck in the radiator"))
    assert not suspects(told)
    told = record(("confirmed", "that's it rust on the hub face"))
    assert suspects(told) == {"hub face": "confirmed"}


def test_what_is_left_for_another_day_is_no_cause_and_no_suspect() -> None:
    told = record(
        ("confirmed", "that's the culprit the relay is burnt"),
        ("confirmed", "the mudguard bracket is cracked it wants welding at the service"),
        ("confirmed", "and that last cowl bolt is in the tin"),
        ("hypothesis", "i must take the weed from the propeller"),
    )
    assert suspects(told) == {"relay": "confirmed"}


def test_the_cylinder_is_the_lift_cylinder_seal_that_was_on_the_table() -> None:
    told = record(
        ("hypothesis", "either the lift cylinder seal or the check valve"), ("ruled_out", "not the cylinder")
    )
    assert suspects(told) == {"lift cylinder seal": "ruled_out", "check valve": "open"}


def test_only_words_that_clear_clear_what_nobody_suspected() -> None:
    assert not suspects(record(("ruled_out", "the cowl is off that's the one latch")))
    assert suspects(record(("ruled_out", "nothing wrong with the stator"))) == {"stator": "ruled_out"}


def test_a_plan_to_order_a_new_part_puts_it_on_the_list_of_parts() -> None:
    told = record(("plan", "i still have to order new brake pads"), ("plan", "look at the brake pads later"))
    assert [(row.name, row.state) for row in told.parts] == [("brake pad", "needed")]


def test_what_is_still_to_be_ordered_is_not_yet_ordered() -> None:
    told = record(("part", "i still have to order new brake pads"))
    assert [(row.name, row.state) for row in told.parts] == [("brake pad", "needed")]
    told = record(("part", "new brake pads are on order"))
    assert [(row.name, row.state) for row in told.parts] == [("brake pad", "ordered")]


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


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("so i was wrong the alternator is back on the list", "open"),
        ("i take it back about the alternator", "open"),
        ("i take it back the alternator never was the problem", "ruled_out"),
        ("the alternator is ruled out", "ruled_out"),
    ],
)
def test_a_clearing_taken_back_opens_the_suspect_again(text: str, status: str) -> None:
    told = record(
        ("hypothesis", "i think it's the alternator"),
        ("ruled_out", "so the alternator is fine"),
        ("ruled_out", text),
    )
    assert suspects(told)["alternator"] == status
