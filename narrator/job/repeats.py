"""Whether a line repeats what was done before."""

from __future__ import annotations

from narrator.job.line import Line
from narrator.values import Measurement, Position

_SIDE = frozenset(("side", "other", "opposite", "left", "right"))


def is_again(line: Line) -> bool:
    """*Same again on the other side*, *same nuts and bolts as before*."""
    words = line.tokens
    if not line.does("step"):
        sided = bool(line.entities(Position)) or not _SIDE.isdisjoint(words)
        if not sided or line.entities(Measurement) or line.does("plan", "caution", "confirmed"):
            return False
    return line.has("repeat.same_again") or ("same" in words and "before" in words)
