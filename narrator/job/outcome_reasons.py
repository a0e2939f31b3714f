"""What the outcome model made of a test or verification: which of the things it looked at weighed most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from narrator.job.line import Line
from narrator.job.outcome import (
    WEIGHED,
    concluded,
    context_features,
    meant,
    test_outcome,
    verification_outcome,
    weights,
    word_features,
)

MOST = 4
_LEAST = 0.05


@dataclass(frozen=True, slots=True)
class Reasons:
    """Log odds of *found good*; ``said`` weighs the last line's words, ``context`` what lies around it."""

    odds: float
    said: tuple[tuple[str, float], ...]
    context: tuple[tuple[str, float], ...]


def outcome_reasons(lines: Sequence[Line], after: Sequence[Line], *, verifies: bool) -> Reasons:
    """Why a test or verification of these ``lines`` ended as it did, given the lines after it.

    ``last`` and ``sum`` are the tone of its lines; ``in:`` what they do, ``0:`` and ``1:`` what the next
    lines do; ``meant`` what the network makes of all their words; ``concluded`` what the technician says of
    the thing itself, which the model does not weigh.
    """
    table = weights()
    weighed = _weigh(table.verification if verifies else table.test, context_features(lines, after))
    if verifies:
        odds = verification_outcome(lines, after)
    else:
        odds = test_outcome(lines, after)
        weighed = {name: WEIGHED * x for name, x in weighed.items()}
        weighed["meant"] = meant(lines, after)
        weighed["concluded"] = concluded(lines, after)
    return Reasons(odds, _most(_weigh(table.words, word_features(lines[-1]))), _most(weighed))


def _weigh(known: Mapping[str, float], features: Mapping[str, float]) -> dict[str, float]:
    return {name: known.get(name, 0.0) * x for name, x in features.items()}


def _most(weighed: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    ranked = sorted(weighed.items(), key=lambda one: (-abs(one[1]), one[0]))
    return tuple((name, round(weight, 2)) for name, weight in ranked[:MOST] if abs(weight) >= _LEAST)
