"""What is wrong with a suspect, in the words that were said: invented sentences, acts given."""

from __future__ import annotations

import pytest

from narrator.values import Act
from tests.job.test_outcome import record


@pytest.mark.parametrize(
    ("act", "text", "fault"),
    [
        ("confirmed", "that's it the slide pin is seized", "seized"),
        ("confirmed", "there it is the ground strap is completely corroded", "corroded"),
        ("confirmed", "that's the cause the tank vent blocked", "blocked"),
        ("hypothesis", "could be a plugged main jet", "plugged"),
        ("hypothesis", "maybe the heater control valve stuck open", "stuck open"),
        ("hypothesis", "could be the alternator", None),
        ("confirmed", "that's it it's the alternator", None),
        ("confirmed", "that's the problem the belt slip is from the pulley", None),
    ],
)
def test_a_fault_is_said_right_beside_its_part(act: Act, text: str, fault: str | None) -> None:
    assert [row.fault for row in record((act, text)).hypotheses][:1] == [fault]


def test_what_is_found_in_the_end_replaces_the_first_guess() -> None:
    told = record(
        ("hypothesis", "could be a sticking slide pin"), ("confirmed", "that's it the slide pin is bent")
    )
    assert [(row.component, row.fault) for row in told.hypotheses] == [("slide pin", "bent")]
