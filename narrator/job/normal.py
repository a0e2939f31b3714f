"""Readings against what is normal in the trade: a voltage lost along a cable, a draw asleep, a charge.

The bands are data (``[[normal]]`` in ``grammars/outcome.toml``, of cylinders
``grammars/standards/limits.toml``), each with its source. They speak only where
the technician says nothing of what the reading should be, and only of readings that their words name.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

from narrator.job.line import Line
from narrator.job.outcome_words import outcome_words
from narrator.paths import GRAMMARS
from narrator.values import Measurement

_THOUSANDTH = 0.001


@dataclass(frozen=True, slots=True)
class Band:
    """Readings of one ``unit`` from ``least`` to ``most``: ``good`` ones (two ends), the others bad but for
    those between ``good`` and ``bad``."""

    unit: str
    words: frozenset[str]
    also: frozenset[str]
    without: frozenset[str]
    span: tuple[float, float]
    good: tuple[float, float]
    bad: tuple[float, float]

    def judge(self, value: float) -> float | None:
        """+1 for a good reading, -1 for a bad one, None between, and where the band does not reach."""
        if not self.span[0] <= value <= self.span[1]:
            return None
        if self.good[0] <= value <= self.good[1]:
            return 1.0
        return -1.0 if value <= self.bad[0] or value >= self.bad[1] else None

    def speaks(self, line: frozenset[str], earlier: frozenset[str]) -> bool:
        """Whether the words of a line, and of the one before, are of what the band is for."""
        said = line | earlier
        named = not self.words.isdisjoint(said) and (not self.also or not self.also.isdisjoint(said))
        return named and self.without.isdisjoint(line)


@lru_cache(maxsize=1)
def bands() -> tuple[Band, ...]:
    """The bands of ``grammars/outcome.toml``."""
    rows = outcome_words()["normal"]
    return tuple(
        Band(
            row["unit"],
            words=frozenset(row["words"].split()),
            also=frozenset(row.get("also", "").split()),
            without=frozenset(row.get("without", "").split()),
            span=(row["span"][0], row["span"][1]),
            good=(row["good"][0], row["good"][1]),
            bad=(row["bad"][0], row["bad"][1]),
        )
        for row in rows
    )


@lru_cache(maxsize=8)
def _limit(ident: str) -> dict[str, Any]:
    rows = tomllib.loads((GRAMMARS / "standards" / "limits.toml").read_text(encoding="utf-8"))["limit"]
    return next(row for row in rows if row["id"] == ident)


def compression_keeps(psi: Sequence[float]) -> bool:
    """Whether cylinders' compressions in psi keep the ratio of lowest to highest and the least allowed."""
    row = _limit("limits.compression")
    return bool(min(psi) >= max(row["low"], row["ratio"] * max(psi) - 1e-9))


def _uneven(line: Line, earlier: Sequence[Line]) -> bool:
    """Whether cylinders' compressions are too unlike or too low, or one of them loses too much."""
    read = [m for m in line.entities(Measurement) if m.role == "reading"]
    if any("compression" in one.tokens for one in (*earlier[-1:], line)):
        psi = [m.value for m in read if m.unit == "psi"]
        return len(psi) > 1 and not compression_keeps(psi)
    if "leakdown" in line.tokens or ("leak", "down") in pairwise(line.tokens):
        return any(m.unit == "%" and m.value > _limit("limits.leakdown")["high"] for m in read)
    return False


def against_normal(line: Line, earlier: Sequence[Line] = ()) -> float | None:
    """+1 where the line's last reading is normal, -1 where not, None where no band speaks of it."""
    if _uneven(line, earlier):
        return -1.0
    readings = [
        (m.value, m.unit)
        for m in line.entities(Measurement)
        if m.role == "reading" and not m.range and m.unit in ("V", "mV", "A", "mA")
    ]
    if not readings:
        return None
    before = frozenset(word for one in earlier[-1:] for word in one.tokens)
    value, unit = readings[-1]
    said = frozenset((*line.tokens, unit))
    if len(unit) > 1:
        value, unit = value * _THOUSANDTH, unit[-1]
    for band in bands():
        if band.unit == unit and band.speaks(said, before):
            return band.judge(value)
    return None
