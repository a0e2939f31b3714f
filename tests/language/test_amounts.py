"""What the network's shares of a number count for."""

from __future__ import annotations

import pytest

from narrator.language.amounts import alone, doubt, is_measured, is_nothing, weight


def test_without_a_network_nothing_is_told() -> None:
    assert not is_nothing({})
    assert not is_measured({})
    assert doubt({}) == 0.0
    assert alone({}) is None
    assert weight({}, "voltage", "V") == 0.0


def test_doubt_counts_against_and_a_share_for() -> None:
    assert doubt({"nothing": 0.9}) > doubt({"nothing": 0.6}) > doubt({"nothing": 0.2}) == 0.0
    sure, half = ({"voltage": share, "nothing": 1.0 - share} for share in (0.95, 0.5))
    assert weight(sure, "voltage", "V") > 2 * weight(half, "voltage", "V") > 0.0
    assert weight(sure, "current", "A") == 0.0
    assert is_measured(sure)
    assert not is_measured(half)
    assert alone(sure) == ("voltage", pytest.approx(1.5))
    assert alone(half) is None


def test_a_speed_on_the_road_is_no_speed_of_an_engine() -> None:
    assert weight({"turning": 0.5}, "speed", "rpm") > weight({"turning": 0.5}, "speed", "mph")
    assert weight({"driving": 0.5}, "speed", "mph") > weight({"driving": 0.5}, "speed", "rpm")
