"""What was said as graphs of phones, and the phone bigram of everything that could be said.

Phones are numbered: 0 silence, 1 a noise or an unknown word, then the language's. A state of a graph is a
phone with the phone to its left. Pdf of entering a phone: ``left * K + phone``; of staying in it: that plus
``K * K``.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from models.train.lfmmi import NEVER

SILENCE, NOISE = 0, 1
_UNKNOWN_SHARE, _SILENCE_SHARE, _EDGE_SHARE = 0.02, 0.2, 0.8
"""How often a word is taken for an unknown one, and silence lies between words and at the edges."""

Lexicon = Mapping[str, Sequence[Sequence[int]]]
"""Word to its pronunciations."""


@dataclass(slots=True)
class Graph:
    """Arrays of one graph with n states; neighbours and weights are padded to the most arcs of a state."""

    first: NDArray[np.float32]
    last: NDArray[np.float32]
    enter: NDArray[np.int64]
    stay: NDArray[np.int64]
    speech: NDArray[np.float32]
    before: NDArray[np.int64]
    before_weight: NDArray[np.float32]
    after: NDArray[np.int64]
    after_weight: NDArray[np.float32]


class Phones:
    """Graphs and the bigram for one lexicon with ``count`` phones."""

    def __init__(self, lexicon: Lexicon, count: int) -> None:
        self.lexicon, self.count = lexicon, count
        self.bigram = (np.zeros(count), np.zeros((count, count)), np.zeros(count))

    def learn(self, texts: Sequence[str], rng: random.Random, rounds: int = 4) -> None:
        """Set the bigram (log weights of first, following and last phones) from texts."""
        first, follow = np.full(self.count, 1e-3), np.full((self.count, self.count), 1e-3)
        last = np.zeros(self.count)
        for text in list(texts) * rounds:
            phones = self._said(text.split(), rng)
            if phones:
                first[phones[0]] += 1
                last[phones[-1]] += 1
            np.add.at(follow, (phones[:-1], phones[1:]), 1)
        total = follow.sum(1) + last
        self.bigram = (
            np.log(first / first.sum()),
            np.log(follow / total[:, None]),
            np.log(np.maximum(last / total, 1e-30)),
        )

    def _said(self, words: Sequence[str], rng: random.Random) -> list[int]:
        phones = [SILENCE] if rng.random() < _EDGE_SHARE else []
        for place, word in enumerate(words, start=1):
            phones += [NOISE] if rng.random() < _UNKNOWN_SHARE else rng.choice(self.lexicon[word])
            if rng.random() < (_EDGE_SHARE if place == len(words) else _SILENCE_SHARE):
                phones.append(SILENCE)
        return phones

    def tensors(self, device: str) -> tuple[Tensor, Tensor, Tensor]:
        """The bigram for ``lfmmi.denominator``."""
        first, follow, last = (torch.tensor(part, dtype=torch.float32, device=device) for part in self.bigram)
        return first, follow, last

    def graph(self, text: str, rng: random.Random) -> Graph:
        """The graph of a text: every pronunciation of each word, silence between words or not."""
        phones, arcs, first, last = self._chain(text.split(), rng)
        states, arcs, first, last = _with_left(phones, arcs, first, last)
        weights = {(u, v): float(self.bigram[1][states[u][1], states[v][1]]) for u, v in arcs}
        before: list[list[tuple[int, float]]] = [[] for _ in states]
        after: list[list[tuple[int, float]]] = [[] for _ in states]
        for (u, v), weight in weights.items():
            before[v].append((u, weight))
            after[u].append((v, weight))
        begin, end = np.full(len(states), NEVER, np.float32), np.full(len(states), NEVER, np.float32)
        for state in first:
            begin[state] = max(NEVER, float(self.bigram[0][states[state][1]]))
        for state in last:
            end[state] = max(NEVER, float(self.bigram[2][states[state][1]]))
        enter = np.array([left * self.count + phone for left, phone in states], np.int64)
        speech = np.array([float(phone != SILENCE) for _, phone in states], np.float32)
        return Graph(begin, end, enter, enter + self.count**2, speech, *_padded(before), *_padded(after))

    def _chain(
        self, words: Sequence[str], rng: random.Random
    ) -> tuple[list[int], set[tuple[int, int]], set[int], set[int]]:
        """Phones as nodes, arcs between them, nodes to begin and to end in."""
        phones = [SILENCE]
        arcs: set[tuple[int, int]] = set()
        first, ends, at_start = {0}, {0}, True
        for word in words:
            said = [[NOISE]] if rng.random() < _UNKNOWN_SHARE else self.lexicon[word]
            outs = set()
            for pronunciation in said:
                nodes = range(len(phones), len(phones) + len(pronunciation))
                phones += pronunciation
                arcs.update((end, nodes[0]) for end in ends)
                if at_start:
                    first.add(nodes[0])
                arcs.update(pairwise(nodes))
                outs.add(nodes[-1])
            phones.append(SILENCE)
            arcs.update((out, len(phones) - 1) for out in outs)
            ends, at_start = outs | {len(phones) - 1}, False
        return phones, arcs, first, ends


def _with_left(
    phones: list[int], arcs: set[tuple[int, int]], first: set[int], last: set[int]
) -> tuple[list[tuple[int, int]], set[tuple[int, int]], set[int], set[int]]:
    """The same graph with states that know the phone to their left. Nodes are numbered in order of speech."""
    before: dict[int, list[int]] = {}
    for u, v in sorted(arcs):
        before.setdefault(v, []).append(u)
    states: list[tuple[int, int]] = []
    place: dict[tuple[int, int], int] = {}
    of_node: dict[int, list[int]] = {}

    def state(node: int, left: int) -> int:
        if (node, left) not in place:
            place[node, left] = len(states)
            states.append((left, phones[node]))
            of_node.setdefault(node, []).append(place[node, left])
        return place[node, left]

    begin = {state(node, SILENCE) for node in sorted(first)}
    wide: set[tuple[int, int]] = set()
    for node in range(len(phones)):
        for previous in before.get(node, []):
            to = state(node, phones[previous])
            wide.update((origin, to) for origin in of_node.get(previous, []))
    return states, wide, begin, {at for (node, _), at in place.items() if node in last}


def _padded(arcs: list[list[tuple[int, float]]]) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
    most = max((len(row) for row in arcs), default=0) or 1
    nodes = np.zeros((len(arcs), most), np.int64)
    weights = np.full((len(arcs), most), NEVER, np.float32)
    for i, row in enumerate(arcs):
        for j, (node, weight) in enumerate(row):
            nodes[i, j], weights[i, j] = node, max(NEVER, weight)
    return nodes, weights


def batched(graphs: Sequence[Graph]) -> dict[str, Tensor]:
    """Graphs of different sizes as one set of tensors, without ``quiet``."""
    states = max(len(graph.enter) for graph in graphs)
    arcs = max(max(graph.before.shape[1], graph.after.shape[1]) for graph in graphs)
    out: dict[str, Tensor] = {}
    for name in Graph.__slots__:  # type: ignore[attr-defined]
        parts = [getattr(graph, name) for graph in graphs]
        filler = NEVER if name in ("first", "last", "before_weight", "after_weight") else 0
        shape = (len(graphs), states, arcs) if parts[0].ndim == 2 else (len(graphs), states)
        whole = np.full(shape, filler, parts[0].dtype)
        for row, part in zip(whole, parts, strict=True):
            row[tuple(slice(size) for size in part.shape)] = part
        out[name] = torch.from_numpy(whole)
    return out


def check_bigram(phones: Phones) -> float:
    """How far the bigram is from summing to one after each phone (0 is right)."""
    _, follow, last = phones.bigram
    totals = np.exp(follow).sum(1) + np.exp(last)
    return float(np.abs(totals - 1).max()) if math.isfinite(totals.sum()) else math.inf
