"""Intervals that keep small numbers from being over-read; 95 % throughout."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from statistics import fmean, stdev

from narrator.errors import NarratorError

MANY = 2000
"""From here on a mean's interval is taken from its standard error instead of a bootstrap."""


def share(hits: int, of: int) -> tuple[float, float]:
    """Wilson's score interval of a share (E. B. Wilson 1927; SciPy's ``binomtest``); (0, 1) of nothing."""
    if not of:
        return 0.0, 1.0
    try:
        from scipy.stats import binomtest  # noqa: PLC0415 - an extra
    except ImportError as error:
        raise NarratorError("E801", library="scipy", extra="study") from error
    found = binomtest(hits, of).proportion_ci(confidence_level=0.95, method="wilson")
    return float(found.low), float(found.high)


def mean(values: Sequence[float]) -> tuple[float, float] | None:
    """Percentile bootstrap of a mean, seeded; None of fewer than two values."""
    if len(values) < 2:
        return None
    if min(values) == max(values):
        return values[0], values[0]
    if len(values) >= MANY:
        half = 1.96 * stdev(values) / sqrt(len(values))
        return fmean(values) - half, fmean(values) + half
    from numpy import array, random  # noqa: PLC0415 - loaded with SciPy only

    drawn = random.default_rng(1).choice(array(values), size=(1000, len(values))).mean(axis=1)
    drawn.sort()
    return float(drawn[25]), float(drawn[975])
