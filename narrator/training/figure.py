"""A measured value and how far it could be off, because what was said could be read otherwise."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self


@dataclass(frozen=True, slots=True)
class Figure:
    """``best`` is the value as the record stands; ``low`` and ``high`` bound it over its unsure lines."""

    best: float
    low: float
    high: float

    @classmethod
    def exact(cls, value: float) -> Self:
        """A value that no unsure line bears on."""
        return cls(value, value, value)

    @classmethod
    def of(cls, best: float, *others: float) -> Self:
        """A value among others that could stand in its place."""
        return cls(best, min(best, *others), max(best, *others))

    @property
    def sure(self) -> bool:
        """Whether nothing about it is in doubt."""
        return self.low == self.high

    def __add__(self, other: Figure) -> Figure:
        return Figure(self.best + other.best, self.low + other.low, self.high + other.high)


def count(events: Iterable[tuple[bool, bool]]) -> Figure:
    """Count events given as (counted, sure).

    The low value leaves out those that rest on an unsure line, the high one adds those that are not counted
    but rest on one.
    """
    pairs = list(events)
    return Figure(
        sum(counted for counted, _ in pairs),
        sum(counted and sure for counted, sure in pairs),
        sum(counted or not sure for counted, sure in pairs),
    )
