"""Groups of fasteners and how a mention finds the ones it means."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from narrator.job.mention import Mention
from narrator.job.naming import likeness
from narrator.values import Size

Change = Literal["removed", "installed"]
_SAME_PLACE = 0.7
_NAMED_WITH = 0.6
"""What it counts that a part was only named with a group, not held by it."""
_TELLING = 4
"""A word shorter than so many letters tells no compound."""
_LIKE = (
    {"bolt", "screw"},
    {"fastener"},
    {"clip", "rivet"},
    {"clip", "circlip"},
    {"clip", "pin"},
    {"clip", "clamp"},
    {"stud", "bolt"},
)


@dataclass(slots=True)
class Group:
    """Fasteners of one kind and size at one place; ``known`` is how many were seen before any came off."""

    kind: str
    size: Size | None
    drive: str | None
    location: str | None
    removed: int = 0
    installed: int = 0
    known: int = 0
    utterances: list[int] = field(default_factory=list)
    touched: int = 0
    parts: frozenset[str] = frozenset()
    """Every part named where they came off; ``location`` is the one that they hold."""
    round: int = 0
    """The round in which they came off last."""
    names: frozenset[str] = frozenset()
    of: frozenset[str] = frozenset()
    pending: int = 0
    """Line in which the part they hold was said to be back, nothing being said of them; 0 if it was not."""
    spared: int = 0
    """How many of them the line that put the part back told to be missing or spoilt."""
    spoilt: int = 0
    """How many of those off were told to be spoilt."""
    renewed: int = 0
    """How many new ones went in since some were."""
    described: bool = False
    """Whether the last removal was only told by what holds the part (*it is on two bolts*)."""
    guessed: bool = False
    """Whether the last removal was of fasteners in the plural with no number told."""
    left: int = 0
    """How many of those counted are yet to come off, where some are told to have."""
    kept: int = 0
    """How many of those counted were said to stay for now."""
    sized_only: bool = False
    """Whether only a size told what it is (*five nineteens*): its kind is a guess."""
    uncounted: bool = False
    """Whether it comes off in steps and nobody told how many there are."""
    steps: list[int] = field(default_factory=list)
    """How many came off at a time."""
    repeated: bool = False
    """Whether the last removal was only implied by *same again*."""

    @property
    def off(self) -> int:
        """How many are still off."""
        return self.removed - self.installed


@dataclass(frozen=True, slots=True)
class Event:
    """One change of one group, kept so that it can be repeated or taken back."""

    group: Group
    change: Change
    count: int
    round: int
    line: int


def near(group: Group, place: str | None) -> bool:
    """Whether a group is at the place that was named."""
    return bool(place and group.location and likeness(place, group.location) >= _SAME_PLACE)


def belongs(group: Group, name: str) -> float:
    """How far a group is at a part, 0 to 1: the part that it holds, or one named with it when it came off."""
    if group.location and _same_part(name, group.location):
        return 1.0
    return _NAMED_WITH if any(_same_part(name, part) for part in group.parts) else 0.0


@lru_cache(maxsize=20_000)
def _same_part(said: str, known: str) -> bool:
    """*The tray* is the undertray, *the peg plate* the footpeg plate."""
    if likeness(said, known) >= _SAME_PLACE:
        return True
    a, b = sorted((said.split(), known.split()), key=len)
    same_end = a[-1] == b[-1] if len(a) > 1 else b[-1].endswith(a[-1]) and len(a[-1]) >= _TELLING
    return same_end and all(any(w.endswith(v) for w in b) for v in a)


def elsewhere(group: Group, place: str | None) -> bool:
    """Whether a group is known to be at another place."""
    return bool(place and group.location) and not belongs(group, place or "")


def waiting(groups: list[Group], m: Mention) -> list[Group]:
    """Groups that are off and that a mention can mean, the most fitting kind of match only."""
    off = [g for g in groups if g.off > 0]
    return matching(off, m)


def matching(groups: list[Group], m: Mention) -> list[Group]:
    """Groups that a mention's kind, size and drive can mean."""
    if m.bare:
        return groups
    if m.size is not None:
        sized = [g for g in groups if g.size == m.size]
        exact = [g for g in sized if g.kind == m.kind]
        if not m.kind_said and (counted := [g for g in sized if m.count and g.off == m.count]):
            return counted
        if exact or (sized and not m.kind_said):
            return exact or sized
        return [
            g for g in groups if g.size is None and g.kind == m.kind and (m.count is None or g.off == m.count)
        ]
    kind = [g for g in groups if g.kind == m.kind and (not m.of or not g.of or m.of & g.of)]
    owned = [g for g in kind if m.of & g.of]
    if m.count and sum(g.off for g in owned) >= m.count and not m.drive:
        return owned  # "the four pinch bolts", two above and two below
    if m.drive and (driven := [g for g in kind if g.drive == m.drive]):
        return driven
    if m.drive and not m.kind_said and (driven := [g for g in groups if g.drive == m.drive]):
        return driven  # "both allens" of what was called a screw
    if kind:
        return kind
    like = [g for g in groups if any({g.kind, m.kind} <= s or "fastener" in {g.kind, m.kind} for s in _LIKE)]
    return [g for g in like if m.count in (None, g.off) and (near(g, m.place) or (m.said and g.off > 1))]


def rank(group: Group, m: Mention) -> tuple[float, int]:
    """How well a group that is off fits: place and number first, then what came off last."""
    score = (
        2.0 * (belongs(group, m.place) if m.place else 0.0)
        - 0.5 * elsewhere(group, m.place)
        + 1.0 * bool(group.names & m.names)
    )
    score += 1.5 * (m.count == group.off) + 0.3 * (m.count is not None and group.off > m.count)
    score -= 1.0 * (m.count is not None and m.count > group.off > 0)
    return score, group.touched
