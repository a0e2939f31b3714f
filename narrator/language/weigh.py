"""What spoke for an act: by how much its score falls when one thing that the model looked at is left out."""

from __future__ import annotations

from collections.abc import Sequence
from math import log

from narrator.language.act_model import act_model
from narrator.values import ACTS, Act

_NEVER = 1e-6


def weigh(row: Sequence[str], acts: Sequence[Act], most: int = 5) -> dict[Act, list[tuple[str, float]]]:
    """For each act the features of ``row`` that speak for it most, with their weight in log odds.

    ``row`` is what the second pass looked at (``narrator.language.features`` tells how to read it); only that
    pass is weighed. Empty without a model.
    """
    model = act_model()
    if model is None or not acts:
        return {}
    second = model.second
    known = [f for f in row if f in second.known]
    table = second.score([known, *(known[:i] + known[i + 1 :] for i in range(len(known)))])
    found: dict[Act, list[tuple[str, float]]] = {}
    for act in acts:
        whole, *without = (_odds(float(scores[ACTS.index(act)])) for scores in table)
        ranked = sorted(((whole - one, name) for one, name in zip(without, known, strict=True)), reverse=True)
        found[act] = [(name, round(weight, 2)) for weight, name in ranked[:most] if weight > 0]
    return found


def _odds(score: float) -> float:
    inside = min(max(score, _NEVER), 1 - _NEVER)
    return log(inside / (1 - inside))
