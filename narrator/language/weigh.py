"""What spoke for an act: by how much its odds fall when one thing that the model looked at is left out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import log

from narrator.language.act_model import act_model
from narrator.language.acts import Looked
from narrator.values import ACTS, Act

_NEVER = 1e-6
_MOST_FEATURES = 5
_MOST_WORDS = 3

Weighed = dict[Act, list[tuple[str, float]]]
"""For each act what spoke for it most, with its weight in log odds."""


def weigh(looked: Iterable[Looked], acts: Iterable[Sequence[Act]]) -> Iterator[Weighed]:
    """For each line, in order, what spoke for its ``acts``; empty without a model.

    First features of the categorizer (``narrator.language.features`` tells how to read them), then words as
    the network took them (``word=dry``), which knows the lines before too. Each half is weighed by itself.
    """
    model = act_model()
    network = model.network if model else None
    story = network.start() if network else None
    for (features, words), chosen in zip(looked, acts, strict=True):
        found: Weighed = {act: [] for act in chosen}
        if model is not None:
            known = [f for f in features if f in model.bag.known]
            _add(found, known, model.bag.score([known, *_without_each(known)]).tolist(), _MOST_FEATURES)
        if network is not None and story is not None:
            names, before = [f"word={word}" for word in words], story
            scores, story = network.score([words], before)
            rows = [
                scores[0].tolist(),
                *(network.score([w], before)[0][0].tolist() for w in _without_each(words)),
            ]
            _add(found, names, rows, _MOST_WORDS)
        yield found


def _without_each(things: Sequence[str]) -> Iterator[list[str]]:
    return ([*things[:i], *things[i + 1 :]] for i in range(len(things)))


def _add(found: Weighed, names: Sequence[str], rows: Sequence[Sequence[float]], most: int) -> None:
    """Add the heaviest names of each act; ``rows`` are scores with everything, then without each name."""
    for act, spoke in found.items():
        whole, *without = (_odds(row[ACTS.index(act)]) for row in rows)
        ranked = sorted(((whole - one, name) for one, name in zip(without, names, strict=True)), reverse=True)
        spoke += [(name, round(weight, 2)) for weight, name in ranked[:most] if weight > 0]


def _odds(score: float) -> float:
    inside = min(max(score, _NEVER), 1 - _NEVER)
    return log(inside / (1 - inside))
