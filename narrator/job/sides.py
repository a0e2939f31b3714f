"""Whether lines speak of one side of the machine or of the other."""

from __future__ import annotations

from collections.abc import Sequence

from narrator.job.line import Line
from narrator.job.naming import SIDES
from narrator.values import Position


def opposite(lines: Sequence[Line], line: Line) -> bool:
    """Whether a conclusion is about the other side than these lines: *the left drain is plugged*."""
    here = {side for one in lines for side in _sides(one)}
    there = _sides(line)
    return any(here & pair and there & pair and not here & there & pair for pair in SIDES)


def _sides(line: Line) -> set[str]:
    names = [p.name for p in line.entities(Position)] + [c.name for c in line.components]
    return {w.removesuffix("'s") for name in names for w in name.split()}
