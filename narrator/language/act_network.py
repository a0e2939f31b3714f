"""The half of the act model that knows what words mean: a small network over a line and those around it.

Word vectors, two convolutions over three words each, the mean and the maximum over the line, and two gated
recurrent units (Cho et al. 2014, as PyTorch computes it): one carries the story from line to line, the other
carries it back from the lines that follow; from the line and both stories come the scores. Trained by
``models.understanding.network`` to say what far larger encoders say, and small enough to run in numpy at some
0.1 ms a line (models/acts/card.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import accumulate, pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np

from narrator.convolution import Vectors
from narrator.paths import MODELS
from narrator.values import ACTS
from narrator.word_network import WordNetwork, of_lines

FOLDER = MODELS / "acts"
QUESTION = "?"
"""The word of the table that stands for a question mark."""
TAGS = (
    "nothing",
    "first component", "more component", "first tool", "more tool", "first material", "more material",
    "first fastener", "more fastener",
)  # fmt: skip
"""What a word is of: nothing that the work is about, or the first or a further word of a thing's name."""
MOVES = ("off", "on")
"""What becomes of fasteners."""
ROLES = ("nothing", "count", "size", "name")
"""What a word tells of fasteners: how many, how large, or what they are."""
KINDS = ("bolt", "nut", "screw", "clip", "clamp", "washer", "pin", "other")
"""What fasteners are."""
AMOUNTS: dict[str, tuple[str, ...]] = {
    "nothing": (),
    "voltage": ("V", "mV"),
    "current": ("A", "mA"),
    "resistance": ("Ohm", "kOhm", "MOhm"),
    "pressure": ("psi", "kPa", "bar"),
    "temperature": ("Cel", "degF"),
    "length": ("mm", "m", "in"),
    "torque": ("N.m", "ft.lbf", "in.lbf"),
    "turning": ("rpm",),
    "driving": ("km/h", "mph"),
    "time": ("s", "min", "h"),
    "volume": ("L", "mL", "qt"),
    "mass": ("kg", "lb"),
    "frequency": ("Hz",),
    "share": ("%",),
    "distance": ("km", "mi"),
    "other": ("W", "kW", "A.h"),
}
"""What a number measures, with the units of the annotated talk (no number, a size, a price: nothing)."""


class Read(NamedTuple):
    """One line as the network read it by itself."""

    line: Vectors
    """Mean and maximum over its words."""
    tags: Vectors
    """Words × ``TAGS``: how likely each is."""
    kinds: list[int]
    """For each word the likeliest of ``TAGS``."""
    meant: list[float]
    """How likely each word is said of what the line suspects, clears or settles, if it does."""
    words: Vectors
    """What stands around each word."""


class Told(NamedTuple):
    """What the words of one line are, by the story so far."""

    moves: list[tuple[float, float]]
    """Words × ``MOVES``: how likely each is of fasteners that come off, that go on."""
    amounts: Vectors
    """Words × ``AMOUNTS``: what a number of theirs likely measures."""
    roles: Vectors
    """Words × ``ROLES``: what each likely tells of fasteners."""
    kinds: Vectors
    """Words × ``KINDS``: what the fasteners likely are that it tells of."""
    role: list[int]
    """For each word the likeliest of ``ROLES``."""
    telling: list[float]
    """How likely each word tells something of fasteners."""


class Network(WordNetwork):
    """The trained network; ``score`` reads a whole job."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        size = len(self._part["even"])
        told = ("moves", "amounts", "roles", "kinds")
        self._of_told = np.hstack([self._part[name] for name in told])
        self._of_told_bias = np.concatenate([self._part[f"{name}.bias"] for name in told])
        ends = [*accumulate(self._part[name].shape[1] for name in told)]
        self._told_at = [slice(a, b) for a, b in pairwise([0, *ends])]
        self._of_words = np.hstack([self._part["tag"], self._part["meant"][:size]])
        self._carries = {way: _Carry(self._part, way) for way in ("story", "later")}

    def start(self) -> Vectors:
        """The story before the first line."""
        return np.zeros(self._part["story.forget"].shape[0] // 3, np.float32)

    def score(self, lines: Sequence[Sequence[str]]) -> Vectors:
        """Scores (lines × ``ACTS``, each 0 to 1) of the words of lines said one after the other."""
        read = self.lines(lines)
        return self.acts(read, self.stories(read, self.start()), self.laters(read, self.start()))

    def lines(self, said: Sequence[Sequence[str]]) -> Vectors:
        """Lines × their numbers, from the words of each."""
        return np.array([one.line for one in self.read(said)], np.float32)

    def acts(self, read: Vectors, stories: Vectors, laters: Vectors) -> Vectors:
        """Scores of lines already read (lines × their numbers), by the story up to each and from each on."""
        if not len(read):
            return np.zeros((0, len(ACTS)), np.float32)
        part = self._part
        hidden = np.maximum(np.hstack([read, stories, laters]) @ part["all"] + part["all.bias"], 0)
        odds = hidden @ part["judged"] + part["judged.bias"] + read @ part["alone"] + part["alone.bias"]
        return _share(odds)

    def told(self, read: Sequence[Read], stories: Vectors) -> list[Told]:
        """What is told of the words of lines already read, by the story after each line."""
        if not read:
            return []
        part, counts = self._part, [len(one.words) for one in read]
        words = np.concatenate([one.words for one in read])
        size = words.shape[1]
        of_line = np.hstack([np.array([one.line for one in read]), stories]) @ part["told"][size:]
        of_line += part["told.bias"]
        hidden = words @ part["told"][:size]
        hidden += of_line if len(read) == 1 else np.repeat(of_line, counts, axis=0)
        odds = np.maximum(hidden, 0, out=hidden) @ self._of_told + self._of_told_bias
        moves, *others = [odds[:, at] for at in self._told_at]
        amounts, roles, kinds = map(_shares, others)
        each = [*zip(*_share(moves).T.tolist(), strict=True)]
        role, telling = roles.argmax(axis=1).tolist(), (1 - roles[:, 0]).tolist()
        return [
            Told(each[a:b], amounts[a:b], roles[a:b], kinds[a:b], role[a:b], telling[a:b])
            for a, b in pairwise(accumulate(counts, initial=0))
        ]

    def read(self, lines: Sequence[Sequence[str]]) -> list[Read]:
        """What each line says by itself, and what each of its words is."""
        if not lines:
            return []
        even, starts, counts = self.around(lines)
        part, size, kinds_of = self._part, even.shape[1], len(TAGS)
        of_words = even @ self._of_words
        tags = _shares(of_words[:, :kinds_of] + part["tag.bias"])
        whole = of_lines(even, starts, counts)
        of_line = whole @ part["meant"][size:] + part["meant.bias"]
        beside = of_words[:, kinds_of:] + np.repeat(of_line, counts, axis=0)
        meant = _share(np.maximum(beside, 0, out=beside) @ part["subject"] + part["subject.bias"])[:, 0]
        kinds, subject = tags.argmax(axis=1).tolist(), meant.tolist()
        lines_at = zip(whole, starts.tolist(), (starts + counts).tolist(), strict=True)
        return [Read(line, tags[a:b], kinds[a:b], subject[a:b], even[a:b]) for line, a, b in lines_at]

    def stories(self, read: Vectors, story: Vectors) -> Vectors:
        """The story after each line already read, where it stood at ``story`` before them."""
        return self._carries["story"](read, story)

    def laters(self, read: Vectors, later: Vectors) -> Vectors:
        """The story told backwards, from where it stands (``later``) after the last line: at each line what
        comes after it, and the line itself."""
        return self._carries["later"](read[::-1], later)[::-1]


class _Carry:
    """A gated recurrent unit, in as few steps a line as can be: each works on a few numbers only.

    A gate is 1 / (1 + exp(-x)): its weights are kept with their signs turned, and what it lets through is
    divided. A story is kept with a one at its end, by which the bias comes with the weights.
    """

    def __init__(self, part: dict[str, Vectors], way: str) -> None:
        bias, self._size = part[f"{way}.forget.bias"], part[f"{way}.forget"].shape[0] // 3
        gates = 2 * self._size
        self._line, self._line_bias = part[f"{way}.line"].copy(), part[f"{way}.line.bias"].copy()
        self._keep: Vectors = np.vstack([part[f"{way}.forget"].T, bias])
        for turned in (self._line, self._line_bias, self._keep):
            turned[..., :gates] *= -1

    def __call__(self, read: Vectors, story: Vectors) -> Vectors:
        """The story after each line, from ``story`` on."""
        if not len(read):
            return np.zeros((0, len(story)), np.float32)
        size, keep, one = self._size, self._keep, np.ones(2 * self._size, np.float32)
        given = read @ self._line + self._line_bias
        out = np.ones((len(read) + 1, size + 1), np.float32)
        out[0, :size] = story
        kept = np.empty(3 * size, np.float32)
        gates, fresh = kept[: 2 * size], kept[2 * size :]
        reset, update = gates[:size], gates[size:]
        last = out[0, :size]
        for before, gate, line, after in zip(
            out, given[:, : 2 * size], given[:, 2 * size :], out[1:, :size], strict=False
        ):
            np.dot(before, keep, kept)
            np.add(gates, gate, gates)
            np.exp(gates, gates)
            np.add(gates, one, gates)
            np.divide(fresh, reset, fresh)
            np.add(fresh, line, fresh)
            np.tanh(fresh, fresh)
            np.subtract(last, fresh, after)
            np.divide(after, update, after)
            last = np.add(after, fresh, after)
        return out[1:, :size]


def _share(odds: Vectors) -> Vectors:
    scores: Vectors = np.reciprocal(1 + np.exp(-odds))
    return scores


def _shares(odds: Vectors) -> Vectors:
    """Shares of one in each row; worked out column by column, since rows are short and many."""
    columns = np.ascontiguousarray(odds.T)
    shares: Vectors = np.exp(columns - np.maximum.reduce(columns))
    shares /= np.add.reduce(shares)
    return shares.T


def act_network(folder: Path = FOLDER) -> Network | None:
    """The network as trained, or None where it was not installed."""
    return _loaded(folder)


@lru_cache(maxsize=1)
def _loaded(folder: Path) -> Network | None:
    path = folder / "network.npz"
    return Network(path) if path.is_file() else None
