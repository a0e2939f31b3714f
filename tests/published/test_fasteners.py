"""Bolts: head sizes (ISO 4014/4017, DIN 931, JIS B 1180), proof loads (ISO 898-1), torque (T = K F d)."""

from __future__ import annotations

from typing import Any

import pytest

from narrator.language.sizes import STANDARD
from narrator.language.standards import (
    factor,
    head_sizes,
    proof_load,
    stress_area,
    table,
    threads_for,
    torque,
    torque_band,
)
from tests.published.cases import ids, rows

pytestmark = pytest.mark.published

THREADS = table("bolts")["pitch"]["coarse"]


@pytest.mark.parametrize("row", rows("fasteners", "head"), ids=ids)
def test_head_sizes(row: dict[str, Any]) -> None:
    series = {one["id"]: one["flats"] for one in table("heads")["series"]}
    assert row["flats"].items() <= series[row["series"]].items()


@pytest.mark.parametrize("row", rows("fasteners", "socket"), ids=ids)
def test_a_socket_fits_a_set_of_threads(row: dict[str, Any]) -> None:
    assert set(row["threads"]) <= set(threads_for(row["head"]))


def test_a_ten_millimetre_head_is_never_taken_for_m10() -> None:
    assert "M10" not in threads_for(10)


def test_every_standard_head_from_8_to_24_can_be_heard() -> None:
    heard = STANDARD
    assert {size for size in head_sizes() if 8 <= size <= 24} <= heard


@pytest.mark.parametrize("row", rows("fasteners", "proof"), ids=ids)
def test_proof_loads(row: dict[str, Any]) -> None:
    assert proof_load(row["thread"], row["strength"]) == row["load"]


@pytest.mark.parametrize("row", rows("fasteners", "area"), ids=ids)
def test_stress_area(row: dict[str, Any]) -> None:
    assert stress_area(row["diameter"], row["pitch"]) == pytest.approx(row["area"], rel=4e-3)


@pytest.mark.parametrize("thread", THREADS)
def test_the_area_formula_gives_the_table(thread: str) -> None:
    area = table("bolts")["area"]["coarse"][thread]
    assert stress_area(float(thread[1:]), THREADS[thread]) == pytest.approx(area, rel=4e-3)


@pytest.mark.parametrize("strength", table("bolts")["class"], ids=lambda row: row["name"])
def test_proof_load_is_area_times_proof_stress(strength: dict[str, Any]) -> None:
    for thread, load in strength["proof_load"].items():
        product = table("bolts")["area"]["coarse"][thread] * strength["proof_stress"]
        assert product == pytest.approx(load, rel=6e-3), thread


@pytest.mark.parametrize("row", rows("fasteners", "nut_factor"), ids=ids)
def test_torque_formula_on_a_printed_example(row: dict[str, Any]) -> None:
    newton_metres = torque(row["preload"], row["diameter"], row["k"])
    assert newton_metres / factor("ft.lbf", "N.m") == pytest.approx(row["ft_lbf"], abs=1.0)


@pytest.mark.parametrize("row", rows("fasteners", "band"), ids=ids)
def test_torque_bands(row: dict[str, Any]) -> None:
    assert list(torque_band(row["thread"], row["strength"])) == pytest.approx(row["band"], rel=8e-3)


@pytest.mark.parametrize("row", rows("fasteners", "plausible"), ids=ids)
def test_printed_torques_lie_inside_and_slips_outside(row: dict[str, Any]) -> None:
    low, _, high = torque_band(row["thread"])
    assert (low <= row["newton_metres"] <= high) is row["inside"]
