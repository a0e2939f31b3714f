"""Jobs told alike: the same job kept twice, heard twice, or told again, so that it is not counted twice.

Each job is kept as a sketch of the pairs of words in it (MinHash, A. Broder 1997, by datasketch): the share
of equal places in two sketches estimates the share of word pairs that two jobs have in common. Sketches are
compared in bands; within a band that several jobs share, each is held against the first and the one before
it only, so that time and memory grow with the number of jobs and not with the number of pairs, whatever the
jobs are like.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.job.record import Record
from narrator.language.tokens import split_words

PLACES, ROWS = 126, 3
"""Places of a sketch, and how many make a band: of two jobs with half their word pairs in common, 996 of 1000
such are found; with 0.4 in common 94 of 100."""
FEWEST = 20
"""Word pairs below which a job is too short to be told alike."""
LIKENESS = 0.4
"""Share of common word pairs from which jobs are told alike. Of our own narrations no two different ones
reach 0.06; one with every tenth word heard wrong keeps 0.64 or more of itself, every seventh 0.5."""

BATCH = 6
"""Bands after which groups are joined, so that what is in one group already is not compared again."""

Places = NDArray[np.int64]
Sketches = NDArray[np.uint16]


@dataclass(frozen=True, slots=True)
class Group:
    """Jobs told alike, by their place in the sketches given.

    ``likeness`` holds, of each but the first, its estimated likeness to the first.
    """

    jobs: tuple[int, ...]
    likeness: tuple[float, ...]


def sketch(record: Record) -> str | None:
    """The sketch of what was said in a job (base64 of 126 16-bit numbers); None of a very short one.

    Raises:
        NarratorError: E801 without datasketch.
    """
    words = [w for u in record.utterances if not u.struck for w in split_words(u.clean.lower()).words]
    pairs = {f"{a} {b}".encode() for a, b in pairwise(w for w in words if w.isalnum())}
    if len(pairs) < FEWEST:
        return None
    try:
        from datasketch import MinHash  # noqa: PLC0415 - an extra
    except ImportError as error:
        raise NarratorError("E801", library="datasketch", extra="study") from error
    made = MinHash(num_perm=PLACES, seed=1)
    made.update_batch(sorted(pairs))
    low = (np.asarray(made.hashvalues) & 0xFFFF).astype("<u2")
    return base64.b64encode(low.tobytes()).decode()


def read(kept: Sequence[str]) -> Sketches:
    """Kept sketches as a table, one row a job."""
    raw = b"".join(map(base64.b64decode, kept))
    return np.frombuffer(raw, dtype="<u2").reshape(-1, PLACES)


def groups(table: Sketches, likeness: float = LIKENESS) -> list[Group]:
    """Jobs told alike, the largest group first, then in the order given.

    Raises:
        NarratorError: E801 without SciPy.
    """
    try:
        from scipy.sparse import coo_array  # noqa: PLC0415 - an extra
        from scipy.sparse.csgraph import connected_components  # noqa: PLC0415
    except ImportError as error:
        raise NarratorError("E801", library="scipy", extra="study") from error
    count = len(table)
    of = np.arange(count)
    for some in _batches(range(0, PLACES if count else 0, ROWS)):
        ties = np.concatenate([_ties(table, first, of, likeness) for first in some], axis=1)
        ties = np.concatenate([ties, np.stack([np.arange(count), of])], axis=1)
        graph = coo_array((np.ones(ties.shape[1], dtype=bool), (ties[0], ties[1])), shape=(count, count))
        label = connected_components(graph, directed=False)[1]
        _, first_of = np.unique(label, return_index=True)
        of = first_of[label]
    order = np.argsort(of, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(of[order])) + 1) if count else []
    found = [
        Group(tuple(map(int, part)), tuple(map(float, _equal(table, part[:1], part[1:]))))
        for part in parts
        if len(part) > 1
    ]
    return sorted(found, key=lambda group: (-len(group.jobs), group.jobs))


def _batches(bands: range) -> Iterator[range]:
    for at in range(0, len(bands), BATCH):
        yield bands[at : at + BATCH]


def _ties(table: Sketches, first: int, of: Places, likeness: float) -> Places:
    """Pairs that share a band and are alike enough, two a job at most; none within a group of ``of``."""
    keys = np.zeros(len(table), dtype=np.uint64)
    for place in range(first, first + ROWS):
        keys = (keys << np.uint64(16)) | table[:, place]
    order = np.argsort(keys, kind="stable")
    same = np.flatnonzero(keys[order][1:] == keys[order][:-1]) + 1
    leads = np.arange(len(order))
    leads[same] = 0
    leads = np.maximum.accumulate(leads)
    pairs = np.stack([np.r_[order[same - 1], order[leads[same]]], np.r_[order[same], order[same]]])
    pairs = pairs[:, of[pairs[0]] != of[pairs[1]]]
    alike: Places = pairs[:, _equal(table, pairs[0], pairs[1]) >= likeness]
    return alike


def _equal(table: Sketches, one: Places, other: Places) -> NDArray[np.float64]:
    """Share of equal places of each pair, some thousands at a time."""
    step = 1 << 12
    one = np.broadcast_to(one, other.shape)
    shares = [
        (table[one[at : at + step]] == table[other[at : at + step]]).mean(axis=1)
        for at in range(0, len(other), step)
    ]
    return np.concatenate([np.empty(0), *shares])
