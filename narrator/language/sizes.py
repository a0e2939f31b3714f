"""Head sizes, and numbers in which a count and a size have run together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from narrator.language.standards import head_sizes
from narrator.language.tables import load
from narrator.values import Size

_ROW = load("fasteners")["heads"][0]
STANDARD = head_sizes()
"""Hexagon head sizes in millimetres that a standard gives to some thread."""
HEADS = STANDARD | frozenset(float(s) for s in _ROW["trade"])
INCH_HEADS = frozenset((0.25, 0.3125, 0.375, 0.4375, 0.5, 0.5625, 0.625, 0.6875, 0.75, 0.8125, 0.875, 0.9375))
"""Wrench openings in inches in common use (common practice, no source)."""
TORX = frozenset(float(s) for s in _ROW["torx"])
PITCHES = frozenset(float(s) for s in _ROW["pitches"])
PLURALS: dict[str, float] = load("fasteners")["plural"][0]["values"]
_SCREWS = 30
"""A Torx head up to this number is a screw's where nothing names it, a larger one may be a bolt's."""
_TENTHS = 10
"""No rule of inches has tenths."""
MOST = 24
"""The largest count that is split off a number."""


@dataclass(frozen=True, slots=True)
class Split:
    """A count and a size read out of one number; ``other`` names another reading, if there is one."""

    count: int
    size: float
    other: str = ""


def _cuts(digits: str) -> list[Split]:
    found = []
    for cut in range(1, len(digits)):
        head, tail = digits[:cut], digits[cut:]
        if tail[0] == "0":
            continue
        count, size = int(head), float(tail)
        if 1 <= count <= MOST and size in STANDARD:
            found.append(Split(count, size))
        elif count <= MOST and tail in ("40", "50", "60", "70", "80", "90"):
            teen = float("1" + tail[0])  # "fourteen" heard as "forty"
            if teen in STANDARD:
                found.append(Split(count, teen))
    return found


def counted_fraction(value: float, bottom: int) -> Split | None:
    """*six sixteenths* as six of 16, *four tenths* as four of 10: a count and a size heard as a fraction.

    None for a fraction that is a size in its lowest terms (*five sixteenths*); one that no head has in
    inches (*three sixteenths*) comes with ``other`` naming the inches.
    """
    top = round(value * bottom)
    lowest = math.gcd(top, bottom) == 1 and bottom != _TENTHS
    if not 1 < top < bottom or float(bottom) not in STANDARD or (lowest and value in INCH_HEADS):
        return None
    return Split(top, float(bottom), f"{top}/{bottom} in" if lowest else "")


def is_screw(size: Size | None) -> bool:
    """Whether a head with nothing but its size said is a screw's: *three t thirties*."""
    return size is not None and size.unit == "T" and size.value <= _SCREWS


def split_size(value: float) -> Split | None:
    """*210* as two of 10, *440* as four of 14, *28* as two of 8; None for a size as it stands."""
    if value != int(value) or value < 10 or value > 9999 or value in HEADS:
        return None
    found = _cuts(str(int(value)))
    if not found:
        return None
    found.sort(key=lambda s: (s.size < 8, s.count))
    best = found[0]
    others = [f"{s.count} of {s.size:g} mm" for s in found[1:]]
    if value < 100:
        others.append(f"{value:g} mm")
    return Split(best.count, best.size, " or ".join(others))


def inch_and(words: Sequence[str], part: int) -> int | None:
    """*An inch and an eighth*, its part from token ``part`` on: where it starts; None if it is no such."""
    start = part - (words[part - 1] in ("a", "an", "one"))
    if list(words[max(0, start - 2) : start]) != ["inch", "and"]:
        return None
    start -= 2
    return start - (start > 0 and words[start - 1] in ("a", "an", "one"))
