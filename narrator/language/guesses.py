"""A reading kept in memory, what a number may be, and how unlike two values are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from narrator.language.leftover import VOLTS_MOST, Unsaid
from narrator.language.tokens import Notes
from narrator.values import Component, Measurement

SCALED = {"thou": "in", "millibar": "bar"}
"""Units that are spoken in thousands of the record's unit: the record has inches and bar."""
_THOUSANDTHS = frozenset(("mV", "mA"))
_PARTED_MOST = 10
_TENTHS = 0.8
_APART, _ACROSS = 0.35, 0.4
"""How unlike values are by the logarithm of how many times as large one is, and on both sides of nought."""
_POINTED = frozenset(("current", "pressure", "length", "resistance", "speed"))


class Reading(NamedTuple):
    """A value measured, in the unit as spoken (thou stay thou); ``said`` when the unit was."""

    turn: int
    quantity: str
    unit: str
    value: float
    said: bool
    at: tuple[int, int] = (0, 0)
    things: frozenset[str] = frozenset()
    """The nouns of the parts that were named beside it."""


class Guess(NamedTuple):
    """What a number may be, and how far-fetched that is (lower is likelier)."""

    cost: float
    quantity: str
    unit: str
    rule: str
    scale: float = 1.0
    """What the number is multiplied by, where hundreds or thousands were left unsaid."""


def things_of(notes: Notes) -> frozenset[str]:
    """The nouns of the parts that a line names."""
    return frozenset(e.head for e in notes.entities if isinstance(e, Component))


def as_spoken(entity: Measurement, turn: int, things: frozenset[str] = frozenset()) -> Reading:
    """A measurement in the unit that was spoken (see ``SCALED``)."""
    unit, value = entity.unit or "", entity.value
    last = entity.rule.rpartition(".")[2]
    if last in SCALED:
        unit, value = last, round(value * 1000, 6)
    return Reading(turn, entity.quantity, unit, value, entity.unit_said, entity.at, things)


def finer(value: float, unit: str) -> float:
    """What speaks against a value with a point in a thousandth unit, of which nobody reads tenths."""
    return _TENTHS if unit in _THOUSANDTHS and value != int(value) else 0.0


def coarser(value: float, unit: str) -> str:
    """Inches for a value in quarters or finer parts, of which nobody reads thousandths."""
    parts = value < _PARTED_MOST and value * 2 % 1 != 0 and value * 64 % 1 == 0
    return "in" if unit == "thou" and parts else unit


def distance(value: float, other: float) -> float:
    """How unlike two values of one quantity are."""
    if value == 0 or other == 0 or (value < 0) != (other < 0):
        return _ACROSS
    return _APART * abs(math.log(value / other))


def distances(value: float, others: Sequence[float]) -> list[float]:
    """How unlike a value is to each of several."""
    if value <= 0:
        return [distance(value, other) for other in others]
    return [_APART * abs(math.log(value / other)) if other > 0 else _ACROSS for other in others]


def value_as(one: Unsaid, quantity: str) -> float | None:
    """The number as a value of a quantity: volts, and figures that make no other number, imply the point."""
    if one.single or one.decimal is None:
        return one.value
    if quantity == "voltage" and (one.value is None or (one.value > 600 and one.decimal <= VOLTS_MOST)):
        return one.decimal
    return one.decimal if one.value is None and quantity in _POINTED else one.value
