# ruff: noqa: E501  (expected lines are kept whole)
"""Values as printed: the spoken one first; conversions against published factors."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from narrator.sheet import units


@pytest.mark.published
@pytest.mark.parametrize(
    ("value", "unit", "other", "expected"),
    [
        # NIST SP 811 appendix B.8 factors; exact ones from the definitions of inch, pound, foot and quart
        (1, "ft.lbf", "N.m", 1.355818),
        (1, "in.lbf", "N.m", 0.1129848),
        (1, "psi", "kPa", 6.894757),
        (1, "inHg", "kPa", 3.386389),
        (1, "inH2O", "kPa", 0.2490889),
        (1, "in", "mm", 25.4),
        (1, "mi", "km", 1.609344),
        (1, "qt", "L", 0.946352946),
        (1, "lb", "kg", 0.45359237),
        (2, "bar", "psi", 29.00755),
        (195, "degF", "Cel", 90.5556),
        (-40, "Cel", "degF", -40.0),
    ],
)
def test_conversions_agree_with_nist(value: float, unit: str, other: str, expected: float) -> None:
    found = units.convert(value, unit)
    assert found is not None
    assert found[1] == other
    assert math.isclose(found[0], expected, rel_tol=2e-6)


@pytest.mark.parametrize(
    ("value", "unit", "printed"),
    [
        (25, "N.m", "25 N·m (18 ft·lbf)"),
        (89, "ft.lbf", "89 ft·lbf (121 N·m)"),
        (8, "N.m", "8 N·m (5.9 ft·lbf)"),
        (35, "psi", "35 psi (241 kPa)"),
        (32, "degF", "32 °F (0 °C)"),
        (0.002, "in", "0.002 in (0.0508 mm)"),
        (420, "mA", "420 mA"),
        (4.2, "uA", "4.2 µA"),
        (3.5, "inH2O", "3.5 inH₂O (0.872 kPa)"),
        (60, "%", "60%"),
        (47, "kOhm", "47 kΩ"),
        (60, "A.h", "60 A·h"),
        (12.40, "V", "12.4 V"),
        (0.00001, "V", "0.00001 V"),
        (3, "furlong", "3 furlong"),
    ],
)
def test_reading(value: float, unit: str, printed: str) -> None:
    assert units.reading(value, unit) == printed


@pytest.mark.parametrize(
    ("value", "unit", "printed"),
    [(10, "mm", "10 mm"), (30, "T", "T30"), (0.4375, "in", "7/16 in"), (1.125, "in", "1 1/8 in"), (1, "in", "1 in"),
     (0.3, "in", "0.3 in"), (5.5, "mm", "5.5 mm")],
)  # fmt: skip
def test_size(value: float, unit: str, printed: str) -> None:
    assert units.size(value, unit) == printed


def test_units_of_different_things_do_not_convert() -> None:
    assert units.to_unit(1, "V", "psi") is None
    assert units.to_unit(1, "furlong", "psi") is None
    assert units.to_unit(250, "mV", "V") == pytest.approx(0.25)


@given(st.floats(min_value=-1e6, max_value=1e6, allow_nan=False))
def test_plain_numbers_read_back(value: float) -> None:
    written = units.plain(value)
    assert "e" not in written.lower()
    assert float(written) == pytest.approx(value, abs=1e-300)


@given(st.integers(min_value=1, max_value=64 * 4))
def test_fractions_read_back(parts: int) -> None:
    whole, _, rest = units.fraction(parts / 64).rpartition(" ")
    above, _, below = rest.partition("/")
    assert int(whole or 0) + int(above) / int(below or 1) == pytest.approx(parts / 64)
