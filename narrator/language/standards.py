"""Published tables of the trade: head sizes, bolt strength, unit factors, limits of common checks.

The values live in ``grammars/standards/`` with the source of each and how it was seen. Nothing here decides
anything: a value outside a band is a reason to look, and the maker's figure outranks every table.
"""

from __future__ import annotations

import math
import tomllib
from functools import cache
from itertools import pairwise
from typing import Any, NamedTuple

from narrator.paths import GRAMMARS

UNKNOWN_CLASSES = ("4.8", "10.9")
"""Property classes that span what is met when a bolt's class was not said."""


class Band(NamedTuple):
    """A plausible range around a target, all in one unit."""

    low: float
    target: float
    high: float


class Verdict(NamedTuple):
    """Whether readings keep a limit, and the limit's rule and source."""

    kept: bool
    rule: str
    source: str


@cache
def table(name: str) -> dict[str, Any]:
    """One file of ``grammars/standards/``, read once; do not change what it returns."""
    return tomllib.loads((GRAMMARS / "standards" / f"{name}.toml").read_text(encoding="utf-8"))


@cache
def head_sizes() -> frozenset[float]:
    """Every width across flats (mm) that a standard gives to some thread: the sockets worth hearing."""
    return frozenset(float(flat) for series in table("heads")["series"] for flat in series["flats"].values())


def threads_for(head: float) -> tuple[str, ...]:
    """Threads whose bolts take a socket of ``head`` mm, smallest first; more than one is usual."""
    found = {t for s in table("heads")["series"] for t, flat in s["flats"].items() if flat == head}
    return tuple(sorted(found, key=lambda thread: float(thread[1:])))


def stress_area(diameter: float, pitch: float) -> float:
    """Nominal stress area of a metric thread in mm² (ISO 898-1), from diameter and pitch in mm."""
    return math.pi / 4 * (diameter - 0.9382 * pitch) ** 2


def proof_load(thread: str, strength: str) -> float:
    """Proof load in N of a coarse thread (``M8``) in a property class (``8.8``).

    Raises:
        KeyError: for a thread or class that the table does not hold.
    """
    loads = {row["name"]: row["proof_load"] for row in table("bolts")["class"]}
    return float(loads[strength][thread])


def torque(force: float, diameter: float, factor: float) -> float:
    """T = K F d in N·m, for a preload in N, a diameter in mm and a nut factor K."""
    return factor * force * diameter / 1000


def torque_band(thread: str, strength: str | None = None) -> Band:
    """Plausible tightening torque in N·m; without a class from the weakest usual to the strongest usual.

    Raises:
        KeyError: for a thread or class that the table does not hold.
    """
    weak, strong = (strength, strength) if strength else UNKNOWN_CLASSES
    ends = table("bolts")["torque"]
    diameter = float(thread[1:])

    def at(end: str, name: str) -> float:
        return torque(ends[end]["preload"] * proof_load(thread, name), diameter, ends[end]["k"])

    return Band(at("low", weak), at("target", strength or "8.8"), at("high", strong))


def factor(unit: str, base: str) -> float:
    """How many ``base`` one ``unit`` is; 1.0 for the same unit.

    Raises:
        KeyError: for a pair that the table does not hold.
    """
    factors = {(row["unit"], row["base"]): row["factor"] for row in table("factors")["factor"]}
    return 1.0 if unit == base else float(factors[unit, base])


def pair_agrees(first: tuple[float, str], second: tuple[float, str], base: str) -> bool:
    """Whether two printed figures can be one quantity: equal within one of the coarser unit's last place."""
    one, two = (value * factor(unit, base) for value, unit in (first, second))
    last = max(_last_place(value) * factor(unit, base) for value, unit in (first, second))
    return abs(one - two) <= last * (1 + 1e-9)


def _last_place(value: float) -> float:
    return 1.0 if float(value).is_integer() else 10.0 ** -len(repr(float(value)).partition(".")[2])


def state_of_charge(volts: float) -> float:
    """Charge in per cent of a rested 12 V flooded battery near 80 °F, between the table's points."""
    points = table("limits")["charge"][0]["points"]
    if volts <= points[0][0]:
        return 0.0
    for (low, below), (high, above) in pairwise(points):
        if volts <= high:
            return float(below + (above - below) * (volts - low) / (high - low))
    return 100.0


def keeps(ident: str, value: float) -> Verdict:
    """Whether one reading keeps a limit of ``limits.toml``, in that limit's unit."""
    row = _limit(ident)
    kept = row.get("low", -math.inf) <= value <= row.get("high", math.inf)
    return Verdict(kept, ident, row["source"])


def _limit(ident: str) -> dict[str, Any]:
    return next(row for row in table("limits")["limit"] if row["id"] == ident)
