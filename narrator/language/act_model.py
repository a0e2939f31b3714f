"""The trained act model: a small spaCy text categorizer over features that can be read, averaged with a
network over word meanings and the story so far (models/acts/card.md)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import chain, repeat
from pathlib import Path
from sys import intern
from typing import NamedTuple

import numpy as np
import spacy
from numpy.typing import NDArray
from spacy.language import Language

from narrator.convolution import Numbers
from narrator.language.act_network import Network, act_network
from narrator.language.features import STAGES, Features
from narrator.paths import MODELS
from narrator.values import ACTS

FOLDER = MODELS / "acts"
_MEANING = 0.65
"""Weight of the network; chosen on 160 jobs that neither half had learned (models/acts/card.md)."""

_MOST = 1 << 20
"""So many words can be told apart in a run of three."""

Scores = NDArray[np.float32]
"""Utterances × ``ACTS``, each 0 to 1."""


class _Runs(NamedTuple):
    """Runs of words as numbers, in order, and the row of weights of each."""

    keys: Numbers
    rows: Numbers

    def rows_of(self, keys: Numbers, nothing: int) -> Numbers:
        """The row of each run of ``keys``, ``nothing`` where it is none of these."""
        at = np.searchsorted(self.keys, keys)
        at[at == len(self.keys)] = 0
        return np.where(self.keys[at] == keys, self.rows[at], nothing)


def _keys(words: Sequence[Numbers]) -> Numbers:
    """One number for each run of words (each below ``_MOST``)."""
    keys = words[0]
    for after in words[1:]:
        keys = keys * _MOST + after
    return keys


def _summed(table: NDArray[np.float64], found: Sequence[Sequence[int]]) -> NDArray[np.float64]:
    """The sum of some rows of a table for each line, which has at least one; any behind it are its last."""
    starts = np.cumsum([0, *map(len, found[:-1])])
    rows = np.minimum(np.fromiter(chain.from_iterable(found), np.int64), len(table) - 1)
    sums: NDArray[np.float64] = np.add.reduceat(table[rows], starts, axis=0)
    return sums


def _squashed(odds: NDArray[np.float64]) -> Scores:
    scores: Scores = (1.0 / (1.0 + np.exp(-odds))).astype(np.float32)
    return scores


class Pass:
    """One text categorizer over feature strings; features it never saw are left out before it looks."""

    def __init__(self, nlp: Language, known: frozenset[str]) -> None:
        self.nlp = nlp
        self.known = known

    @cached_property
    def _weights(self) -> tuple[dict[str, int], NDArray[np.float64], NDArray[np.float64]]:
        """Row of each feature, features × ``ACTS`` of weights, and the bias.

        The categorizer is linear in its features, so each one's weights are its output for that one alone:
        summing them is ten times as fast as making a Doc of every row. The first row stands for no feature.
        """
        names = ["none", *sorted(self.known)]
        pipe = self.nlp.get_pipe("textcat_multilabel")
        linear = pipe.model.get_ref("output_layer")  # type: ignore[attr-defined]
        order = [pipe.labels.index(act) for act in ACTS]  # type: ignore[attr-defined]
        keys = np.array([self.nlp.vocab.strings.add(name) for name in names], np.uint64)
        alone = (keys, np.ones(len(names), np.float32), np.ones(len(names), np.int32))
        bias = linear.get_param("b").astype(np.float64)[order]
        table = linear.predict(alone).astype(np.float64)[:, order] - bias
        return {intern(name): n for n, name in enumerate(names)}, np.vstack([table, 0 * bias]), bias

    @cached_property
    def _runs(self) -> tuple[dict[str, int], list[_Runs]]:
        """Of features that are words: numbers of words, and runs of two and three.

        The number of a word is its row of weights, or one behind all rows where it counts in runs only.
        """
        numbers: dict[str, int] = {}
        found: dict[str, dict[tuple[str, ...], int]] = {"b": {}, "t": {}}
        for name, row in self._weights[0].items():
            kind, _, words = name.partition("=")
            if kind == "w":
                numbers[intern(words)] = row
            elif kind in found:
                found[kind][tuple(words.split("_"))] = row
        behind = len(self._weights[1])
        for word in {w for runs in found.values() for run in runs for w in run} - numbers.keys():
            numbers[intern(word)] = behind
            behind += 1
        runs = []
        for one in found.values():
            keys = _keys([np.array([numbers[w] for w in words]) for words in zip(*one, strict=True)])
            order = np.argsort(keys)
            runs.append(_Runs(keys[order], np.array(list(one.values()))[order]))
        return numbers, runs

    @cached_property
    def _with(self) -> dict[str, dict[str, int]]:
        """Rows of features by what their names begin with: the stage of the job, or that it was before."""
        starts = (*(f"{stage}+" for stage in STAGES), "before:")
        rows = self._weights[0].items()
        return {
            s: {intern(name.removeprefix(s)): n for name, n in rows if name.startswith(s)} for s in starts
        }

    def score(self, rows: Iterable[Iterable[str]]) -> Scores:
        """Scores of each row of features, by their names."""
        place, table, bias = self._weights
        found = [[place[f] for f in row if f in place] or [0] for row in rows]
        return _squashed(_summed(table, found) + bias) if found else np.zeros((0, len(ACTS)), np.float32)

    def judge(self, rows: Sequence[Features]) -> Scores:
        """The same of features as they are found: runs of words are looked up as numbers, without a name."""
        if not rows:
            return np.zeros((0, len(ACTS)), np.float32)
        place, table, bias = self._weights
        numbers, (twos, threes) = self._runs
        nothing = len(table) - 1
        found, words, after = [], [], self._with["before:"]
        for line, told, stage, before, others in rows:
            said_here = [*map(numbers.get, line, repeat(nothing))]
            words += said_here
            row = [nothing, *set(said_here)]
            row += filter(None, map(place.get, told))  # the first row is of no feature
            row += filter(None, map(self._with[f"{stage}+"].get, told))
            row += filter(None, map(after.get, before))
            row += filter(None, map(place.get, others))
            found.append(row)
        said = np.array([*words, nothing, nothing])
        first, second, third = said[:-2], said[1:-1], said[2:]  # over the ends of lines too: no run is known
        runs = table[twos.rows_of(_keys((first, second)), nothing)]
        runs += table[threes.rows_of(_keys((first, second, third)), nothing)]
        starts = np.cumsum([0, *(len(row.line) for row in rows[:-1])])
        return _squashed(_summed(table, found) + np.add.reduceat(runs, starts, axis=0) + bias)

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
    """The categorizer, and the network of ``folder`` (None where there is none)."""

    bag: Pass
    folder: Path | None = None

    @property
    def network(self) -> Network | None:
        """The network, loaded once for all that ask it."""
        return None if self.folder is None else act_network(self.folder)


@lru_cache(maxsize=1)
def act_model(folder: Path = FOLDER) -> ActModel | None:
    """The model as trained, or None where none was installed: rules then work alone."""
    if not (folder / "bag" / "features.txt").is_file():
        return None
    return ActModel(Pass.load(folder / "bag"), folder)
