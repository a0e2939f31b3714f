"""Plausibility: values outside a sourced band (``grammars/limits.toml``) are put up for a look, never changed.

pint does the arithmetic, on fixed unit expressions; no heard text ever reaches it.
"""

from __future__ import annotations

from functools import cache

from narrator.language.tables import load
from narrator.language.tokens import Notes
from narrator.values import Fastener, Look, Measurement

EXPRESSIONS = {
    "V": "volt", "mV": "millivolt", "A": "ampere", "mA": "milliampere", "Ohm": "ohm", "kOhm": "kiloohm",
    "MOhm": "megaohm", "psi": "pound_force_per_square_inch", "kPa": "kilopascal", "bar": "bar", "mbar": "millibar",
    "inHg": "inch_Hg", "inH2O": "inch_H2O", "mm": "millimeter", "cm": "centimeter", "in": "inch", "ft": "foot",
    "km": "kilometer", "mi": "mile", "N.m": "newton*meter", "ft.lbf": "force_pound*foot", "in.lbf": "force_pound*inch",
    "L": "liter", "mL": "milliliter", "qt": "quart", "gal": "gallon", "pt": "pint", "kg": "kilogram", "g": "gram",
    "lb": "pound", "oz": "ounce", "s": "second", "ms": "millisecond", "min": "minute", "h": "hour", "Hz": "hertz",
    "kHz": "kilohertz", "km/h": "kilometer/hour", "mph": "mile/hour", "W": "watt", "kW": "kilowatt",
    "hp": "horsepower", "A.h": "ampere*hour", "uF": "microfarad", "rpm": "revolution/minute",
}  # fmt: skip
"""Contract symbol to a pint expression that has one meaning."""

_TABLE = load("limits")
_TORQUE = _TABLE["torque"][0]
_BANDS: dict[str, list[float]] = _TORQUE["bands"]
_HEADS: dict[str, list[int]] = _TORQUE["heads"]
_FACTORS: dict[str, float] = _TABLE["factors"]
_BY_QUANTITY: dict[str, list[tuple[dict[str, object], frozenset[str]]]] = {}
for _row in _TABLE["band"]:
    _BY_QUANTITY.setdefault(_row["quantity"], []).append((_row, frozenset(_row["words"])))


@cache
def factor(unit: str, other: str) -> float | None:
    """What a value in ``unit`` is multiplied with to be in ``other``; None if they measure different things."""
    if (known := _FACTORS.get(f"{unit} {other}")) is not None:
        return known
    from pint import DimensionalityError, UnitRegistry  # here: loading it takes longer than reading a session

    try:
        registry = _registry(UnitRegistry)
        return float(registry.Quantity(1.0, EXPRESSIONS[unit]).to(EXPRESSIONS[other]).magnitude)
    except (KeyError, DimensionalityError):
        return None


@cache
def _registry(kind):  # type: ignore[no-untyped-def]
    return kind()


def convert(value: float, unit: str, other: str) -> float | None:
    """A value in another unit of the same quantity; temperatures by their offset, the rest by a factor."""
    if unit == other:
        return value
    if (unit, other) == ("degF", "Cel"):
        return (value - 32) / 1.8
    if (unit, other) == ("Cel", "degF"):
        return value * 1.8 + 32
    by = factor(unit, other)
    return None if by is None else value * by


def torque_band(size: float, unit: str, thread: bool) -> tuple[float, float] | None:
    """The plausible torque in N.m of a bolt by head size (or thread) in mm; None where no band is known."""
    if unit != "mm":
        return None
    threads = [int(size)] if thread else _HEADS.get(f"{size:g}", [])
    bands = [_BANDS[str(t)] for t in threads if str(t) in _BANDS]
    return (min(b[0] for b in bands), max(b[1] for b in bands)) if bands else None


def look_at(notes: Notes) -> None:
    """Enter a look for each value outside its band."""
    for entity in notes.entities:
        if not isinstance(entity, Measurement) or entity.unit is None:
            continue
        if entity.quantity == "torque":
            _torque(notes, entity)
        elif entity.quantity in _BY_QUANTITY:
            _band(notes, entity)


def _band(notes: Notes, entity: Measurement) -> None:
    for row, words in _BY_QUANTITY[entity.quantity]:
        if words.isdisjoint(notes.words):
            continue
        value = convert(entity.value, entity.unit or "", str(row["unit"]))
        low, high = float(row["low"]), float(row["high"])  # type: ignore[arg-type]
        if value is not None and not low <= value <= high:
            reason = f"{entity.value:g} {entity.unit} lies outside {low:g} to {high:g} {row['unit']} ({row['source']})"
            notes.looks.append(Look("band", reason, 0, entity.span))
        return


def _torque(notes: Notes, entity: Measurement) -> None:
    near = [
        e for e in notes.entities
        if isinstance(e, Fastener) and e.size and e.kind in ("bolt", "nut") and 0 <= entity.at[0] - e.at[1] <= 4
    ]  # fmt: skip
    if not near or near[-1].size is None:
        return
    size = near[-1].size
    thread = any(
        notes.words[i][:1] == "m" and notes.words[i] not in ("mil", "mm") for i in range(*near[-1].at)
    )
    band = torque_band(size.value, size.unit, thread)
    value = convert(entity.value, entity.unit or "", "N.m")
    if band and value is not None and not band[0] <= value <= band[1]:
        reason = (
            f"{entity.value:g} {entity.unit} is outside {band[0]:g} to {band[1]:g} N.m, usual for a {size.value:g} mm "
            f"head ({_TORQUE['source']}): check the value and its unit"
        )
        notes.looks.append(Look("band", reason, 0, entity.span))
