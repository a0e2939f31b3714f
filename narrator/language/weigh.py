"""What spoke for an act: by how much its odds fall when one thing that the model looked at is left out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from narrator.convolution import Vectors
from narrator.language.act_model import act_model
from narrator.language.act_network import Network
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
    the network took them (``word=dry``), which knows the lines around too. Each half is weighed by itself.
    """
    model, every = act_model(), list(looked)
    places = _places(model.network, every) if model and model.network else [None] * len(every)
    for (features, words), chosen, place in zip(every, acts, places, strict=True):
        found: Weighed = {act: [] for act in chosen}
        if model is not None:
            known = [f for f in features if f in model.bag.known]
            _add(found, known, model.bag.score([known, *_without_each(known)]).tolist(), _MOST_FEATURES)
        if place is not None:
            names = [f"word={word}" for word in words]
            _add(found, names, place.scores([words, *_without_each(words)]), _MOST_WORDS)
        yield found


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a line stands: the story before it, and the one told backwards after it."""

    network: Network
    before: Vectors
    after: Vectors

    def scores(self, lines: Sequence[Sequence[str]]) -> list[list[float]]:
        """Scores of lines, each by itself in this place."""
        network, read = self.network, self.network.lines(lines)
        stories = np.vstack([network.stories(line[None], self.before) for line in read])
        laters = np.vstack([network.laters(line[None], self.after) for line in read])
        scores: list[list[float]] = network.acts(read, stories, laters).tolist()
        return scores


def _places(network: Network, looked: Sequence[Looked]) -> Sequence[_Place | None]:
    """The place of each line."""
    read, start = network.lines([one.words for one in looked]), network.start()
    before = [start, *network.stories(read, start)]
    after = [*network.laters(read, start)[1:], start]
    return [_Place(network, a, b) for a, b in zip(before, after, strict=False)]


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
