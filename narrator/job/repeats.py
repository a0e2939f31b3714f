"""Whether a line repeats what was done before."""

from __future__ import annotations

from narrator.job.line import Line
from narrator.values import Measurement, Position

_SIDE = frozenset(("side", "other", "opposite", "left", "right"))

SIDES = _SIDE | {"nearside", "offside", "driver", "driver's", "passenger", "passenger's"}


def is_again(line: Line) -> bool:
    """*Same again on the other side*, *same nuts and bolts as before*."""
    words = line.tokens
    if not line.does("step"):
        sided = bool(line.entities(Position)) or not _SIDE.isdisjoint(words)
        if not sided or line.entities(Measurement) or line.does("plan", "caution", "confirmed", "test"):
            return False
    return line.has("repeat.same_again") or ("same" in words and "before" in words)


def names_side(line: Line) -> bool:
    """Whether a line names a side of the machine."""
    return not SIDES.isdisjoint(line.tokens)
