"""One mention of fasteners, and the part of the machine it belongs to."""

from __future__ import annotations

from dataclasses import dataclass

from narrator.job.line import Line
from narrator.job.motion import Motion
from narrator.values import Component, Size

EVERY = -1
"""A count that stands for all of a group (*all of them*, *the lot*)."""
_OWN = frozenset(("on", "off", "in", "out", "back", "up", "down", "away"))


@dataclass(slots=True)
class Mention:
    """Fasteners as one line speaks of them; ``bare`` when only a count or pronoun does (``kind`` is None)."""

    start: int
    end: int
    kind: str | None = None
    size: Size | None = None
    drive: str | None = None
    count: int | None = None
    said: bool = False
    plural: bool = False
    new: bool = False
    definite: bool = False
    kind_said: bool = True
    place: str | None = None
    rest: bool = False
    pronoun: bool = False
    again: bool = False
    another: bool = False
    """One more of those just named (*second bolt out*)."""
    known: int = 0
    """How many there are, where only some of them are said to move (*four screws, three come*); else 0."""
    same_size: bool = False
    each: bool = False
    """*A bolt each*: as many as there are parts to hold."""
    summed: bool = False
    """Whether its number was told to be that of all (*two bolts in each, so four*)."""
    upto: int = 0
    """Where some told beside it end (*two at the back and one at the front*); else 0."""
    shared: int = 0
    """How many things it was told of one by one (*a washer each*); else 0."""
    alike: bool = False
    """*Six more of the same*: of the kind and size that came off last."""
    fits: bool = False
    """Means something only where a group of exactly so many is off (*lid down on its three*)."""
    but: int = 0
    """All of them but so many (*all but one bolt*)."""
    of: frozenset[str] = frozenset()
    """What the noun itself says that it belongs to (*spindle nut*, *lug nuts*)."""
    names: frozenset[str] = frozenset()
    """Words said with the noun that tell one from another (*centre nut*, *top two bolts*)."""

    @property
    def bare(self) -> bool:
        """Whether no fastener is named."""
        return self.kind is None

    @property
    def every(self) -> bool:
        """Whether all of a group are meant."""
        return self.count == EVERY


def place(line: Line, motion: Motion, start: int, end: int) -> str | None:
    """The component that a mention belongs to: the nearest, one after it rather than one before it."""

    def cost(c: Component) -> float:
        """Distance in words; a comma or another fastener between them counts as several."""
        ahead = c.at[0] >= end
        gap = c.at[0] - end if ahead else 1.5 + start - c.at[1]
        low, high = min(start, c.at[0]), max(end, c.at[1])
        between = range(end, c.at[0] + 1) if ahead else range(c.at[1], start + 1)
        breaks = sum(1 for b in motion.breaks if b in between)
        others = sum(1 for f in motion.fasteners if f.at[0] != start and low <= f.at[0] < high)
        if ahead and c.at[0] == end:  # "lid off four phillips, straps undone"
            gap += 2.6
        if ahead and breaks and motion.word(c.at[1]) in _OWN:  # "cover on, four screws, crank on"
            gap += 3.0
        if ahead and "with" in motion.words[end : c.at[0]]:  # "exhaust up, both nuts with a new gasket"
            gap += 3.0
        return gap + (3.5 if ahead else 1.5) * breaks + 3.0 * others

    nearest = min(line.components, key=cost, default=None)
    return nearest.name if nearest else None
