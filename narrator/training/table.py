"""A table of a study: plain values with a note on how to read them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from narrator.training import intervals

TOP = 15
"""Rows shown of a list that has no end."""


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a study: ``id`` for files and anchors, a note on how to read it, rows of plain values."""

    id: str
    title: str
    note: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]


def shared(hits: int, of: int) -> tuple[float, float, float]:
    """A share and its interval, rounded for a table."""
    low, high = intervals.share(hits, of)
    return round(hits / of, 4) if of else 0.0, round(low, 4), round(high, 4)
