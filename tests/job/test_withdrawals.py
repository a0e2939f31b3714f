"""Conclusions taken back, and what only sounds like one: invented sentences, acts given."""

from __future__ import annotations

from tests.job.test_outcome import record
from tests.job.test_suspicion import suspects


def test_what_is_taken_back_is_what_was_settled_last_though_the_name_fits_another_better() -> None:
    told = record(
        ("hypothesis", "either the door switch or the door motor"),
        ("ruled_out", "the door switch clicks every time so it's not the switch"),
        ("confirmed", "there's our culprit it's the micro switch"),
        ("ruled_out", "well i was wrong about that switch"),
    )
    assert suspects(told)["micro switch"] == "ruled_out"


def test_what_was_suspected_by_the_very_name_that_is_taken_back_goes_with_it() -> None:
    told = record(
        ("hypothesis", "a coil or a plug"),
        ("confirmed", "there's our culprit spark plug three is cracked"),
        ("ruled_out", "i was wrong it wasn't the plug"),
    )
    assert "confirmed" not in suspects(told).values()


def test_a_cause_that_stands_is_not_taken_back_by_clearing_another_of_its_name() -> None:
    told = record(
        ("hypothesis", "either the door switch or the micro switch"),
        ("confirmed", "there's our culprit it's the micro switch"),
        ("ruled_out", "the door switch is fine"),
    )
    assert suspects(told) == {"door switch": "ruled_out", "micro switch": "confirmed"}


def test_what_had_nothing_to_do_with_it_is_no_second_cause() -> None:
    told = record(
        ("hypothesis", "it might be the slave cylinder"),
        ("confirmed", "there's our culprit the slave cylinder is leaking"),
        ("ruled_out", "i was hasty the slave cylinder had nothing to do with it"),
    )
    assert suspects(told) == {"slave cylinder": "ruled_out"}


def test_what_the_cause_did_something_to_is_no_cause() -> None:
    told = record(
        ("hypothesis", "that'd be the centre bolt or the hangers"),
        ("confirmed", "that's the one that was walking the axle round the corner"),
    )
    assert "axle" not in suspects(told)
    told = record(
        ("hypothesis", "could be the seal in the master cylinder"),
        ("confirmed", "yep that's where his pedal went"),
    )
    assert "pedal" not in suspects(told)


def test_a_denial_in_scots_clears() -> None:
    told = record(
        ("confirmed", "that's him that's the water pump away"),
        ("ruled_out", "so it wisnae the water pump"),
    )
    assert suspects(told) == {"water pump": "ruled_out"}
