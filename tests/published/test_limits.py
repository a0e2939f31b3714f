"""Limits of common checks: battery, charging, compression, leakage, cooling system, tread."""

from __future__ import annotations

from typing import Any

import pytest

from narrator.job.normal import compression_keeps
from narrator.language.standards import factor, keeps, state_of_charge, table
from tests.published.cases import ids, rows

pytestmark = pytest.mark.published


@pytest.mark.parametrize("row", rows("limits", "charge"), ids=ids)
def test_state_of_charge(row: dict[str, Any]) -> None:
    assert state_of_charge(row["volts"]) == pytest.approx(row["percent"], abs=1e-6)


def test_charge_rises_with_voltage() -> None:
    charges = [state_of_charge(11.5 + step / 100) for step in range(150)]
    assert charges == sorted(charges)


@pytest.mark.parametrize("row", rows("limits", "compression"), ids=ids)
def test_compression(row: dict[str, Any]) -> None:
    assert compression_keeps(row["psi"]) is row["kept"]


@pytest.mark.parametrize("row", rows("limits", "limit"), ids=ids)
def test_limits(row: dict[str, Any]) -> None:
    verdict = keeps(row["id"], row["value"])
    assert verdict.kept is row["kept"]
    assert verdict.source


def test_leakage_limit_in_gauge_readings() -> None:
    supplied, held = 80.0, 60.0
    assert keeps("limits.leakdown", 100 * (supplied - held) / supplied).kept


def test_the_least_compression_is_690_kilopascals() -> None:
    limits = {row["id"]: row for row in table("limits")["limit"]}
    assert limits["limits.compression"]["low"] * factor("psi", "kPa") == pytest.approx(690, abs=1.0)
