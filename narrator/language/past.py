"""What earlier lines measured, laid out as the numbers of one line are held against it."""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from typing import TYPE_CHECKING

from narrator.language.guesses import Reading

if TYPE_CHECKING:
    from narrator.language.readings import Guesser
    from narrator.language.unsaid import Memory

_OLD, _LATELY = 12, 6
"""After how many utterances a reading, and a word that told what is measured, count no more."""
_STEADY = 5
"""How many of the last readings are looked at for how many of them are alike."""
_UNLIKE = 2.0
"""How far apart values are taken to be where that cannot be told."""
NAMES = (
    "read", "quantity read", "age", "share of readings", "steady", "read last", "focus", "set up", "met",
    "same here", "other here", "value", "same value", "value here",
)  # fmt: skip


class Past:
    """The readings of earlier lines, gone through once for all the numbers of a line."""

    def __init__(self, memory: Memory) -> None:
        self.of: dict[str, list[Reading]] = {}
        """Those of each quantity, the latest first."""
        self.units: dict[tuple[str, str], list[Reading]] = {}
        """The same of each quantity and unit."""
        for reading in reversed(memory.readings):
            key = reading.quantity, reading.unit
            if (same := self.units.get(key)) is None:
                same = self.units[key] = []
                self.of.setdefault(reading.quantity, [])
            same.append(reading)
            self.of[reading.quantity].append(reading)
        self.values = {key: [r.value for r in same] for key, same in self.units.items()}
        """Their values alone."""
        self._count = len(memory.readings)
        self._last = [(r.quantity, r.unit) for r in memory.readings[: -_STEADY - 1 : -1]]
        self._focus = {q: max(0.0, 1.0 - (memory.turn - turn) / _LATELY) for turn, q in memory.focus}

    def beside(self, guesser: Guesser, quantity: str, unit: str, value: float) -> tuple[float, ...]:
        """How the session measured so far against a meaning of a number, as ``NAMES``."""
        memory, key = guesser.memory, (quantity, unit)
        alike, same = self.of.get(quantity, ()), self.units.get(key, ())
        told = guesser.here
        here = [r.value for r in told if r.quantity == quantity and r.unit == unit] if told else ()
        apart = _apart(value, self.values[key]) if same else _UNLIKE
        return (
            bool(same), bool(alike),
            max(0.0, 1.0 - (memory.turn - same[0].turn) / _OLD) if same else 0.0,
            len(alike) / self._count if alike else 0.0,
            self._last.count(key) / _STEADY, bool(same) and self._last[0] == key,
            self._focus.get(quantity, 0.0), quantity in guesser.set_up, quantity in memory.met,
            bool(here), bool(told) and not here,
            max(0.0, 1.0 - apart), apart < 0.02, max(0.0, 1.0 - _apart(value, here)) if here else 0.0,
        )  # fmt: skip


def _apart(value: float, read: Sequence[float]) -> float:
    """How unlike a value is to the likest of those read, by the logarithm of how many times as much it is."""
    if value <= 0:
        return _UNLIKE
    return min([abs(log(value / r)) if r > 0 else _UNLIKE for r in read], default=_UNLIKE)
