"""A check after work is one of the repair, unless it still looks for the cause."""

from __future__ import annotations

import pytest

from narrator.job.record import Record
from tests.job.test_outcome import record

_BEGUN = (
    ("hypothesis", "could be the fan belt"),
    ("confirmed", "that's what it is the fan belt is gone"),
    ("step", "new fan belt on and tensioned"),
)


def _checked(*told: tuple[str, str]) -> Record:
    return record(*_BEGUN, *told)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("said", "drawn"),
    [
        ("flex the elbow and a split opens", ("confirmed", "that explains the hiss the elbow is split")),
        ("pull the strainer and it's solid with rust", ("confirmed", "so the strainer was starving it")),
        (
            "hose in the top and it runs straight through",
            ("ruled_out", "well the radiator ain't blocked at all"),
        ),
        ("spin it by hand and it whispers", ("ruled_out", "the idler is fine after that")),
    ],
)
def test_a_check_from_which_something_is_drawn_is_a_test(said, drawn):
    told = _checked(("verification", said), drawn)
    assert not told.verifications
    assert told.tests[-1].utterances == [4]


@pytest.mark.parametrize(
    "drawn",
    [
        ("ruled_out", "so the belt was bad but it's not the whole story"),
        ("ruled_out", "okay it was never the belt"),
        ("confirmed", "so there are two separate faults"),
        ("plan", "customer collects on monday"),
        ("step", "covers back on"),
    ],
)
def test_a_check_of_the_repair_stays_one(drawn):
    told = _checked(("verification", "run it up and it still squeals"), drawn)
    assert [v.utterances for v in told.verifications] == [[4]]


@pytest.mark.parametrize(
    "work",
    [
        "nip them to the same as their pals",
        "six litres of oil and the stick is at the top",
        "pumped the tensioner up",
    ],
)
def test_any_work_after_a_cause_was_found_may_be_its_repair(work):
    told = record(
        ("hypothesis", "could be the motor"),
        ("confirmed", "so that's her growl the motor was rocking in the frame"),
        ("step", work),
        ("verification", "out in the lane and it's every bit as bad"),
        ("ruled_out", "loose it was but that wasn't the noise"),
    )
    assert [v.utterances for v in told.verifications] == [[4]]
    assert not told.tests


def test_without_a_cause_or_work_a_check_is_a_test():
    told = record(
        ("hypothesis", "could be the motor"),
        ("step", "lid off"),
        ("verification", "out in the lane and it growls"),
    )
    assert [t.utterances for t in told.tests] == [[3]]


@pytest.mark.parametrize(
    "told",
    [
        (("step", "wound it in a turn and a half"), ("verification", "lifts the block no bother")),
        (("result", "set them both and it's nice and quiet now"),),
    ],
)
def test_what_was_adjusted_after_a_check_is_verified(told):
    found = record(("test", "relief on the gauge"), ("result", "one forty bar, plate says two ten"), *told)
    assert [v.outcome for v in found.verifications] == ["pass"]


def test_a_result_of_a_drive_right_after_mending_is_one_of_the_repair() -> None:
    told = record(("step", "new drop link on"), ("result", "went round the block, still knocks"))
    assert [row.outcome for row in told.verifications] == ["fail"]


def test_another_thing_found_bad_after_the_check_is_no_check_of_the_repair() -> None:
    told = _checked(("verification", "ran it half an hour, quiet"), ("result", "the chain is worn"))
    assert len(told.verifications) == 1
