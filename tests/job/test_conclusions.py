"""Which suspect a conclusion or a clearing means: invented sentences, acts given."""

from __future__ import annotations

import pytest

from narrator.values import Act
from tests.job.test_outcome import record
from tests.job.test_suspicion import suspects


@pytest.mark.parametrize(
    ("raised", "cleared", "name"),
    [
        (
            "so it's the winch motor then or the gearbox on the end of it",
            "well the gearbox is quiet",
            "gearbox",
        ),
        (
            "could be the fuel pump or the pulse line feeding off it",
            "so that's the line let off",
            "pulse line",
        ),
        ("i'd say it's the pump or the swivel gone tired", "i did that swivel a wrong", "swivel"),
    ],
)
def test_what_was_named_beside_a_suspect_can_be_cleared(raised: str, cleared: str, name: str) -> None:
    assert suspects(record(("hypothesis", raised), ("ruled_out", cleared)))[name] == "ruled_out"


def test_what_was_named_beside_a_suspect_is_none_until_it_is_concluded_about() -> None:
    told = suspects(record(("hypothesis", "maybe the fuel pump wears when the tank runs dry")))
    assert set(told) == {"fuel pump"}


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("that's what is starving her the feed hose is split", {"feed hose"}),
        ("that's why it won't lift the check valve is cracked", {"check valve"}),
        ("that's where the amps go the blower motor is seized", {"blower motor"}),
        ("that's what wet the brake shoe", set()),
        ("that's why the relay is chattering", set()),
        ("that is why it hangs a broken spring", {"spring"}),
        ("well that explains it the piston seal is gone", {"piston seal"}),
    ],
)
def test_what_is_said_after_that_is_why_is_the_cause_only_where_it_has_a_state(
    text: str, names: set[str]
) -> None:
    assert set(suspects(record(("confirmed", text)))) == names


def test_a_cause_is_named_as_it_was_settled() -> None:
    told = record(
        ("hypothesis", "makes me think the brake has been dragging"),
        ("confirmed", "so it's the brake hose it's swelled shut inside"),
    )
    assert suspects(told) == {"brake hose": "confirmed"}


@pytest.mark.parametrize("act", ["confirmed", "ruled_out"])
def test_the_whole_machine_introduced_is_no_cause(act: Act) -> None:
    told = record((act, "so this is a twenty twelve halden courier with the ugly wheels"))
    assert "confirmed" not in suspects(told).values()


def test_a_settled_cause_does_not_fall_with_a_clearing_that_names_nothing() -> None:
    told = record(
        ("hypothesis", "maybe the drive belt"),
        ("test", "look at the drive belt"),
        ("confirmed", "found it the drive belt is split"),
        ("ruled_out", "no so something more is also there"),
    )
    assert suspects(told) == {"drive belt": "confirmed"}


def test_what_is_seen_to_be_good_is_no_cause() -> None:
    seen = "and look the condenser fan has all of its blades"
    assert not suspects(record(("confirmed", seen)))


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("i cannot hang this on the alternator then", "alternator"),
        ("that battery can stay where it is", "battery"),
        ("so i have no quarrel with the twine", "twine"),
        ("it won't shake like this so forget the mud", "mud"),
    ],
)
def test_a_clearing_of_what_nobody_suspected_keeps_it_as_cleared(text: str, name: str) -> None:
    assert suspects(record(("ruled_out", text))) == {name: "ruled_out"}


def test_a_cause_that_did_not_cure_falls_by_a_remark_without_a_name() -> None:
    told = record(
        ("confirmed", "there we have it the motor plug is green"),
        ("step", "new motor plug on"),
        ("verification", "round the square again and it stutters the same"),
        ("ruled_out", "so the green was ugly but it was not that"),
    )
    assert suspects(told) == {"motor plug": "ruled_out"}


def test_a_second_complaint_does_not_take_the_cause_of_the_first_back() -> None:
    told = record(
        ("confirmed", "there we have it the charge cable is worn through"),
        ("verification", "it charges again"),
        ("ruled_out", "now the flicker that can't come from there it does it parked"),
    )
    assert suspects(told) == {"charge cable": "confirmed"}


def test_a_suspect_denied_in_the_breath_that_settles_another_is_cleared() -> None:
    told = record(
        ("hypothesis", "either the feed hose or the o ring in the end of it"),
        ("confirmed", "that's it the feed hose is burst and the o ring never leaked a drop"),
    )
    assert suspects(told) == {"feed hose": "confirmed", "o ring": "ruled_out"}


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("there we have the rascal inside the display cable is broken", "display cable"),
        ("so that's what stops the door it's the lower roller", "lower roller"),
    ],
)
def test_the_thing_that_is_in_a_bad_state_is_the_cause(text: str, name: str) -> None:
    assert suspects(record(("confirmed", text))) == {name: "confirmed"}


def test_what_was_cleared_is_open_again_when_it_is_suspected_again() -> None:
    told = record(
        ("hypothesis", "either the lift cylinder seal or the check valve"),
        ("ruled_out", "which lets the cylinder off"),
        ("hypothesis", "so the cylinder is back on the list"),
        ("ruled_out", "the check valve is honest"),
        ("hypothesis", "so we go back to the check valve i let it go too fast"),
    )
    assert suspects(told) == {"lift cylinder seal": "open", "check valve": "open"}


def test_the_other_side_is_a_suspect_of_its_own() -> None:
    told = record(
        ("hypothesis", "i'd say wheel bearing"),
        ("confirmed", "that's it the left wheel bearing is rough"),
        ("ruled_out", "so i had that wrong the left one was not the noise"),
        ("confirmed", "there's your man the right wheel bearing"),
    )
    assert suspects(told) == {"left wheel bearing": "ruled_out", "right wheel bearing": "confirmed"}


def test_the_bolts_of_a_thing_are_not_the_thing() -> None:
    told = record(
        ("hypothesis", "maybe the disc is bent"), ("confirmed", "so it's the disc bolts they are loose")
    )
    assert suspects(told) == {"disc": "open", "disc bolt": "confirmed"}


def test_the_shorter_of_two_things_named_side_by_side_is_cleared_by_its_name() -> None:
    told = record(
        ("hypothesis", "it's the float needle that doesn't shut or the float has a hole"),
        ("ruled_out", "no hole so the float is not guilty"),
        ("confirmed", "there we have it the float needle is worn"),
    )
    assert suspects(told) == {"float needle": "confirmed", "float": "ruled_out"}


def test_what_must_not_be_forgotten_is_not_cleared() -> None:
    told = record(
        ("hypothesis", "maybe the controller"), ("ruled_out", "and one must not forget the controller itself")
    )
    assert suspects(told) == {"controller": "open"}


def test_beside_what_is_brought_back_another_may_be_suspected() -> None:
    told = record(
        ("hypothesis", "maybe the turbo"),
        ("ruled_out", "so the turbo is innocent"),
        ("hypothesis", "so it may be the turbo after all or the actuator"),
    )
    assert suspects(told) == {"turbo": "open", "actuator": "open"}


def test_a_cause_that_is_refused_is_cleared() -> None:
    for said in ("so nobody can say it's the battery", "don't tell me it's the battery"):
        told = record(("hypothesis", "first thing is the battery"), ("confirmed", said))
        assert suspects(told) == {"battery": "ruled_out"}


def test_what_stands_against_a_denied_thing_is_not_cleared_with_it() -> None:
    told = record(
        ("hypothesis", "either the inlet gasket or the carburettor"),
        ("ruled_out", "there's where it gets its breath the gasket not the carburettor at all"),
    )
    assert suspects(told) == {"inlet gasket": "open", "carburettor": "ruled_out"}


def test_a_pair_of_things_is_no_thing_that_holds_another() -> None:
    told = record(
        ("hypothesis", "so the power cable is open"),
        ("confirmed", "the diodes are cooked from one pair of cables"),
    )
    assert suspects(told) == {"power cable": "open", "diode": "confirmed"}


def test_before_a_thing_is_a_place() -> None:
    told = record(("hypothesis", "it must be something before the charger maybe the inlet"))
    assert set(suspects(told)) == {"inlet"}


def test_a_state_unsaid_takes_the_conclusion_back() -> None:
    told = record(
        ("hypothesis", "could be the purge valve"),
        ("confirmed", "so it's the vent hose it's cracked"),
        ("ruled_out", "so forget what i said it's not cracked"),
    )
    assert suspects(told) == {"purge valve": "open", "vent hose": "ruled_out"}


def test_two_settled_together_by_other_names() -> None:
    told = record(
        ("hypothesis", "the pilot jet is blocked"),
        ("hypothesis", "wait maybe the insulator"),
        ("confirmed", "so two separate problems the blocked pilot jet and a cracked insulator block"),
    )
    assert set(suspects(told).values()) == {"confirmed"}


def test_a_cleared_thing_that_is_called_good_in_a_doubt_stays_cleared() -> None:
    told = record(
        ("hypothesis", "maybe the thermo switch"),
        ("ruled_out", "so it is not the thermo switch"),
        ("hypothesis", "if the thermo switch is good then its ground wire is open"),
    )
    assert suspects(told)["thermo switch"] == "ruled_out"


def test_the_thing_itself_is_suspected_once_its_relay_is_cleared() -> None:
    told = record(
        ("hypothesis", "next in line is the starter relay"),
        ("ruled_out", "so the starter relay is fine"),
        ("hypothesis", "so i reckon it's the starter itself"),
        ("ruled_out", "the starter lived through it"),
    )
    assert suspects(told) == {"starter relay": "ruled_out", "starter": "ruled_out"}


def test_a_withdrawal_in_scots_withdraws() -> None:
    told = record(
        ("confirmed", "guilty the charge relay is sticking"),
        ("ruled_out", "right i withdraw the charge it wasnae the relay"),
    )
    assert suspects(told) == {"charge relay": "ruled_out"}


def test_what_is_only_something_else_is_cleared_though_it_sounds_like_a_conclusion() -> None:
    told = record(
        ("hypothesis", "could be the voltage regulator"),
        ("confirmed", "so the regulator is only the mirror of it"),
    )
    assert suspects(told) == {"voltage regulator": "ruled_out"}


def test_a_denial_in_another_clause_refuses_nothing() -> None:
    told = record(
        ("hypothesis", "either the crank seal or the intake boot"),
        ("confirmed", "split where nobody looks so it's the intake boot"),
    )
    assert suspects(told)["intake boot"] == "confirmed"
    told = record(
        ("hypothesis", "either the crank seal or the intake boot"),
        ("confirmed", "so nobody can say it's the intake boot"),
    )
    assert suspects(told)["intake boot"] == "ruled_out"


def test_a_cause_in_a_longer_name_of_its_place_is_the_suspect() -> None:
    told = record(
        ("hypothesis", "so i look at the suction tube"),
        ("confirmed", "that is it the o ring of the big suction tube"),
    )
    assert list(suspects(told).values()) == ["confirmed"]


def test_what_was_only_moved_or_warned_of_is_no_cause() -> None:
    assert suspects(record(("confirmed", "lid on and the wing nut back on the air box"))) == {}
    told = record(("confirmed", "the drive belt is gone that's a separate trouble all on its own"))
    assert suspects(told) == {"drive belt": "confirmed"}


def test_clearing_what_a_suspect_is_in_clears_the_suspect() -> None:
    told = record(
        ("hypothesis", "i think of a bent blade or the bearing in the gearbox"),
        ("ruled_out", "so the gearbox and the blade are both innocent"),
    )
    assert suspects(told) == {"blade": "ruled_out", "bearing": "ruled_out"}
