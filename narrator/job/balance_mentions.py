"""What the words that name fasteners say of a kind and size, whatever the ledger made of them.

The ledger enters a change or none; the network is more or less sure of each mention. How many came off and
went back if every mention counts by how sure the network is of it, stands beside what the ledger heard.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from narrator.job.line import Line
from narrator.job.record import SizeRow
from narrator.values import Fastener, Size

Key = tuple[str, tuple[float, str] | None]
"""A kind and a size."""
_LIKELY = 0.5
"""From which share on a mention is of fasteners that move that way."""


def key_of(kind: str, size: Size | SizeRow | None) -> Key:
    """The key of a kind and size."""
    return kind, (size.value, size.unit) if size else None


@dataclass(frozen=True, slots=True)
class Mentioned:
    """One mention: the line that makes it, how many it names (0 if none), and how sure the network is."""

    line: int
    count: int
    said: bool
    off: float
    on: float


def mentioned(lines: Sequence[Line], keys: Collection[Key]) -> dict[Key, list[Mentioned]]:
    """The mentions of each kind and size; one without a size is of the only size of its kind."""
    sizes: dict[str, list[Key]] = defaultdict(list)
    for key in keys:
        sizes[key[0]].append(key)
    found: dict[Key, list[Mentioned]] = defaultdict(list)
    for line in lines:
        for fastener in line.entities(Fastener):
            key = key_of(fastener.kind, fastener.size)
            if fastener.size is None and key not in keys and len(sizes[fastener.kind]) == 1:
                key = sizes[fastener.kind][0]
            found[key].append(_mention(line, fastener))
    return found


def _mention(line: Line, fastener: Fastener) -> Mentioned:
    moves = line.understood.moves[slice(*fastener.at)]
    off, on = (sum(way) / len(moves) for way in zip(*moves, strict=True)) if moves else (0.0, 0.0)
    return Mentioned(line.id, fastener.count or 0, fastener.count_said, off, on)


class Weighed:
    """The mentions of one kind and size, weighed by how sure the network is of each."""

    def __init__(self, mentions: Sequence[Mentioned]) -> None:
        self._mentions = mentions
        self._off = sum(m.count * m.off for m in mentions)
        self._on = sum(m.count * m.on for m in mentions)
        self._counts = frozenset(m.count for m in mentions)

    def features(self) -> list[float]:
        """What is the same for every outcome."""
        mentions = self._mentions
        last_off = max((m.line for m in mentions if m.off > _LIKELY), default=0)
        return [
            float(len(mentions)), self._off, self._on,
            _most(m.off for m in mentions), _most(m.on for m in mentions),
            float(max(self._counts, default=0)), float(sum(m.said for m in mentions)),
            float(sum(m.on > _LIKELY for m in mentions)), float(sum(m.off > _LIKELY for m in mentions)),
            _most(m.on for m in mentions if m.line > last_off),
            min((max(m.off, m.on) for m in mentions), default=-1.0),
        ]  # fmt: skip

    def of_totals(self, removed: int, installed: int, without: int | None) -> list[float]:
        """What tells one outcome from another; ``without`` is the line of the event taken for none."""
        off, on = removed - self._off, installed - self._on
        there = [m for m in self._mentions if m.line == without]
        return [
            off, on, abs(off) + abs(on),
            _most(m.off for m in there), _most(m.on for m in there),
            float(removed in self._counts), float(installed in self._counts),
        ]  # fmt: skip


def _most(values: Iterator[float]) -> float:
    """The greatest; -1 where there are none."""
    return max(values, default=-1.0)
