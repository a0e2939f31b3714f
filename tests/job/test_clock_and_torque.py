"""Distances on the clock and torques said without a unit, settled by what the session tells later."""

from __future__ import annotations

from narrator.job.clock_and_torque import settle_clock_and_torque
from narrator.language.reader import Reader
from narrator.values import Measurement, Odometer, Utterance


def _units(lines: list[str]) -> list[str | None]:
    said = [Utterance(n, float(n), n + 0.5, text) for n, text in enumerate(lines, start=1)]
    settled = settle_clock_and_torque(Reader(use_model=False).read(said))
    return [e.unit for one in settled for e in one.entities if isinstance(e, (Measurement, Odometer))]


def test_a_clock_without_a_unit_shows_what_is_driven_later() -> None:
    assert _units(["three hundred and one thousand four hundred on it", "ten kilometres"])[0] == "km"
    assert _units(["three hundred and one thousand four hundred on it", "ten miles"])[0] == "mi"


def test_a_clock_follows_the_money_of_the_country() -> None:
    assert _units(["ninety one thousand four hundred on the clock", "the seal is six euros"]) == ["km"]
    assert _units(["ninety one thousand four hundred on the clock", "the seal is six quid"]) == ["mi"]


def test_a_first_torque_without_a_unit_follows_a_later_one() -> None:
    assert _units(["four bolts back to thirty", "the nut to ninety newton metres"]) == ["N.m", "N.m"]
    assert _units(["four bolts back to thirty", "the nut to ninety foot pounds"]) == ["ft.lbf", "ft.lbf"]


def test_a_torque_that_was_told_stays() -> None:
    told = ["the nut to ninety newton metres", "four bolts back to thirty", "the plug to twelve foot pounds"]
    assert _units(told) == ["N.m", "N.m", "ft.lbf"]


def test_the_road_is_driven_as_fast_as_its_clock_counts() -> None:
    told = ["test ride hands off at seventy", "odometer says ninety thousand kilometres"]
    assert _units(told) == ["km/h", "km"]
    assert _units([*told, "test ride and it shakes at eighty"]) == ["km/h", "km", "km/h"]


def test_a_speed_that_was_said_with_its_unit_goes_before_the_clock() -> None:
    told = ["odometer says ninety thousand kilometres", "it shakes at fifty miles an hour"]
    assert _units([*told, "test ride hands off at seventy"]) == ["km", "mph", "mph"]
