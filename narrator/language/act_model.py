"""The trained act model: a small spaCy text categorizer over features that can be read, averaged with a
network over word meanings and the story so far (models/acts/card.md)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import chain
from pathlib import Path

import numpy as np
import spacy
from numpy.typing import NDArray
from spacy.language import Language

from narrator.language.act_network import Network, act_network
from narrator.paths import MODELS
from narrator.values import ACTS

FOLDER = MODELS / "acts"
_MEANING = 0.5
"""Weight of the network; chosen on ten narrations that neither half had learned (models/acts/card.md)."""

Scores = NDArray[np.float32]
"""Utterances × ``ACTS``, each 0 to 1."""


class Pass:
    """One text categorizer over feature strings; features it never saw are left out before it looks."""

    def __init__(self, nlp: Language, known: frozenset[str]) -> None:
        self.nlp = nlp
        self.known = known

    @cached_property
    def _weights(self) -> tuple[dict[str, int], NDArray[np.float64], NDArray[np.float64]]:
        """Row of each feature, features × ``ACTS`` of weights, and the bias.

        The categorizer is linear in its features, so each one's weights are its output for that one alone:
        summing them is ten times as fast as making a Doc of every row. The last row stands for no feature.
        """
        names = [*sorted(self.known), "none"]
        pipe = self.nlp.get_pipe("textcat_multilabel")
        linear = pipe.model.get_ref("output_layer")  # type: ignore[attr-defined]
        order = [pipe.labels.index(act) for act in ACTS]  # type: ignore[attr-defined]
        keys = np.array([self.nlp.vocab.strings.add(name) for name in names], np.uint64)
        alone = (keys, np.ones(len(names), np.float32), np.ones(len(names), np.int32))
        bias = linear.get_param("b").astype(np.float64)[order]
        table = linear.predict(alone).astype(np.float64)[:, order] - bias
        return {name: n for n, name in enumerate(names)}, table, bias

    def score(self, rows: Iterable[Sequence[str]]) -> Scores:
        """Scores of each row of features."""
        place, table, bias = self._weights
        found = [[place[f] for f in row if f in place] or [len(place) - 1] for row in rows]
        if not found:
            return np.zeros((0, len(ACTS)), np.float32)
        starts = np.cumsum([0, *map(len, found[:-1])])
        sums = np.add.reduceat(table[list(chain.from_iterable(found))], starts, axis=0) + bias
        scores: Scores = (1.0 / (1.0 + np.exp(-sums))).astype(np.float32)
        return scores

    @classmethod
    def load(cls, folder: Path) -> Pass:
        """Load one pass as the training wrote it."""
        known = (folder / "features.txt").read_text(encoding="utf-8").splitlines()
        return cls(spacy.load(folder / "model"), frozenset(known))


def blend(scores: Scores, meaning: Scores | None) -> Scores:
    """Scores of the categorizer averaged with those of the network, where there is one."""
    if meaning is None:
        return scores
    table: Scores = (1 - _MEANING) * scores + _MEANING * meaning
    return table


@dataclass(frozen=True, slots=True)
class ActModel:
    """The categorizer, and the network (None where it was not installed)."""

    bag: Pass
    network: Network | None


@lru_cache(maxsize=1)
def act_model(folder: Path = FOLDER) -> ActModel | None:
    """The model as trained, or None where none was installed: rules then work alone."""
    if not (folder / "bag" / "features.txt").is_file():
        return None
    return ActModel(Pass.load(folder / "bag"), act_network(folder))
