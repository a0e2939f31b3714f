"""Values as a shop writes them: the spoken value first, a conversion beside it where one helps.

pint does the arithmetic and nothing else: every unit is a fixed expression of the tables below, and what
was spoken never reaches its parser. Factors agree with NIST SP 811 (checked in tests).
"""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from typing import Any, NamedTuple

import pint

from narrator.wording import with_sign


class _Way(NamedTuple):
    """A conversion: the unit's and the target's pint expression, and the target's contract symbol."""

    unit: str
    target: str
    symbol: str


_WAYS: dict[str, _Way] = {
    "N.m": _Way("newton*meter", "foot*force_pound", "ft.lbf"),
    "ft.lbf": _Way("foot*force_pound", "newton*meter", "N.m"),
    "in.lbf": _Way("inch*force_pound", "newton*meter", "N.m"),
    "psi": _Way("pound_force_per_square_inch", "kilopascal", "kPa"),
    "kPa": _Way("kilopascal", "pound_force_per_square_inch", "psi"),
    "bar": _Way("bar", "pound_force_per_square_inch", "psi"),
    "inHg": _Way("inch_Hg", "kilopascal", "kPa"),
    "inH2O": _Way("inch_of_water", "kilopascal", "kPa"),
    "Cel": _Way("degree_Celsius", "degree_Fahrenheit", "degF"),
    "degF": _Way("degree_Fahrenheit", "degree_Celsius", "Cel"),
    "mm": _Way("millimeter", "inch", "in"),
    "in": _Way("inch", "millimeter", "mm"),
    "L": _Way("liter", "quart", "qt"),
    "qt": _Way("quart", "liter", "L"),
    "km": _Way("kilometer", "mile", "mi"),
    "mi": _Way("mile", "kilometer", "km"),
    "km/h": _Way("kilometer/hour", "mile/hour", "mph"),
    "mph": _Way("mile/hour", "kilometer/hour", "km/h"),
    "kg": _Way("kilogram", "pound", "lb"),
    "lb": _Way("pound", "kilogram", "kg"),
}


@cache
def _registry() -> Any:
    registry: Any = pint.UnitRegistry()
    registry.define("inch_of_water = 2.54 * centimeter_H2O")  # the conventional one: pint's is at 60 °F
    return registry


def plain(value: float) -> str:
    """A number without needless digits, never in exponent form: ``12.40`` is ``12.4``, ``98.0`` is ``98``."""
    number = f"{Decimal(repr(float(value))):f}"
    return number.rstrip("0").rstrip(".") if "." in number else number


def convert(value: float, symbol: str) -> tuple[float, str] | None:
    """The value in the other common unit and that unit's symbol; None where no conversion helps."""
    way = _WAYS.get(symbol)
    if way is None:
        return None
    quantity = _registry().Quantity(value, way.unit)
    return float(quantity.to(way.target).magnitude), way.symbol


def to_unit(value: float, symbol: str, target: str) -> float | None:
    """The value in ``target``, or None where the two units do not measure the same thing."""
    if symbol == target:
        return value
    units = {name: way.unit for name, way in _WAYS.items()} | {
        "V": "volt", "mV": "millivolt", "A": "ampere", "mA": "milliampere", "uA": "microampere",
        "Ohm": "ohm", "kOhm": "kiloohm",
        "s": "second", "min": "minute", "h": "hour", "W": "watt", "kW": "kilowatt",
    }  # fmt: skip
    if symbol not in units or target not in units:
        return None
    try:
        return float(_registry().Quantity(value, units[symbol]).to(units[target]).magnitude)
    except pint.DimensionalityError:
        return None


def rounded(value: float, symbol: str) -> str:
    """A derived value, no finer than it deserves: whole degrees and torques, else three figures."""
    size = abs(value)
    if symbol in {"Cel", "degF"} or size >= 100 or (symbol in {"ft.lbf", "N.m"} and size >= 10):
        return plain(float(round(value))).replace("-0", "0") if round(value) == 0 else plain(round(value))
    return plain(float(f"{value:.3g}"))


def reading(value: float, symbol: str) -> str:
    """A value as said, with a conversion beside it where one helps: ``25 N·m (18 ft·lbf)``."""
    said = with_sign(plain(value), symbol)
    other = convert(value, symbol)
    return said if other is None else f"{said} ({with_sign(rounded(*other), other[1])})"


def size(value: float, unit: str) -> str:
    """A fastener's size: ``10 mm``, ``T30``, ``7/16 in``."""
    if unit == "T":
        return f"T{plain(value)}"
    if unit == "in":
        return f"{fraction(value)} in"
    return with_sign(plain(value), unit)


def fraction(value: float) -> str:
    """Inches as the spanner says them, to a 64th (``0.4375`` is ``7/16``), else as a decimal."""
    parts = value * 64
    if abs(parts - round(parts)) > 1e-6 or value <= 0:
        return plain(value)
    whole, rest = divmod(round(parts), 64)
    if not rest:
        return str(whole)
    below = 64
    while rest % 2 == 0:
        rest, below = rest // 2, below // 2
    return f"{whole} {rest}/{below}" if whole else f"{rest}/{below}"
