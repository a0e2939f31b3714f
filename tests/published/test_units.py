"""Units: NIST SP 811, exact definitions, and torques that makers print in two units."""

from __future__ import annotations

from typing import Any

import pint
import pytest

from narrator.language.standards import factor, pair_agrees, table
from narrator.sheet.units import to_unit
from tests.published.cases import ids, rows

pytestmark = pytest.mark.published

PINT = {
    "ft.lbf": "foot*force_pound", "in.lbf": "inch*force_pound", "kgf.m": "kilogram_force*meter",
    "kgf.cm": "kilogram_force*centimeter", "N.m": "newton*meter", "psi": "psi", "bar": "bar",
    "kPa": "kilopascal",
    "inHg": "inch_Hg", "in": "inch", "mm": "millimeter", "mi": "mile", "km": "kilometer", "mph": "mile/hour",
    "km/h": "kilometer/hour", "qt": "quart", "gal": "gallon", "L": "liter", "lb": "pound", "kg": "kilogram",
}  # fmt: skip


@pytest.mark.parametrize("row", rows("units", "factor"), ids=ids)
def test_factors_are_the_published_ones(row: dict[str, Any]) -> None:
    assert factor(row["one"], row["of"]) == pytest.approx(row["is"], rel=5e-7)
    assert to_unit(1.0, row["one"], row["of"]) == pytest.approx(row["is"], rel=5e-6)


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize("row", table("factors")["factor"], ids=lambda row: row["unit"])
def test_our_factors_agree_with_a_reference_library(row: dict[str, Any], registry: pint.UnitRegistry) -> None:
    theirs = registry.Quantity(1.0, PINT[row["unit"]]).to(PINT[row["base"]]).magnitude
    assert row["factor"] == pytest.approx(theirs, rel=1e-12 if row.get("exact", True) else 1e-5)


@pytest.mark.parametrize("row", rows("units", "value"), ids=ids)
def test_the_sheet_converts_round_values(row: dict[str, Any]) -> None:
    (value, unit), (wanted, target) = row["from"], row["to"]
    assert to_unit(value, unit, target) == pytest.approx(wanted, rel=5e-5)


@pytest.mark.parametrize("row", rows("units", "pair"), ids=ids)
def test_a_makers_pair_agrees_unless_it_is_a_misprint(row: dict[str, Any]) -> None:
    one, two = tuple(row["one"]), tuple(row["two"])
    assert pair_agrees(one, two, "N.m") is row["agrees"]
    assert pair_agrees(two, one, "N.m") is row["agrees"]


def test_a_unit_without_a_factor_is_an_error() -> None:
    with pytest.raises(KeyError):
        factor("furlong", "km")
