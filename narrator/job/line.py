"""One understood utterance as the ledgers read it: small questions with short answers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

from narrator.convolution import Vectors
from narrator.values import ACTS, Act, Component, Cue, Entity, Material, Position, Understood

if TYPE_CHECKING:
    from narrator.job.bare_numbers import Bare

E = TypeVar("E", bound=Entity)

_BEFORE_PLACE = frozenset(
    "in on at into onto inside under behind beside through past from above below over near around round by"
    " between before afore ahint after across of off against along to within underneath beneath toward"
    " towards with via".split()
)
_ARTICLES = frozenset(
    "the a an this that its his her my our your their each every both same old new little".split()
)

_PLACE: dict[str, int] = {act: n for n, act in enumerate(ACTS)}

_NONE: list[Any] = []
_OVER = 3
"""So many of a line's words must be sure of a motion between them."""
LATERAL = frozenset("left right nearside offside".split())


class Line:
    """Wraps one ``Understood``; entities come in the order of the words."""

    def __init__(self, understood: Understood) -> None:
        self.understood = understood
        self.id = understood.utterance.id
        self.acts = frozenset(understood.acts)
        self.tokens = understood.tokens
        self.breaks = frozenset(understood.breaks)
        self.tone: float | None = None
        self.kept: float | None = None
        """Whether its phrases say that something is as it should be, once that was asked (``findings``)."""
        self._of_kind: dict[type[Entity], list[Any]] = {}
        for entity in understood.entities:
            self._of_kind.setdefault(type(entity), []).append(entity)
        self.components: list[Component] = self._of_kind.get(Component, _NONE)
        """Its components, in order."""
        self.materials: list[Material] = self._of_kind.get(Material, _NONE)
        """Its materials, in order."""
        self._cued = " ".join(["", *(cue.name for cue in understood.cues)])
        """The names of its cues, a space before each."""
        self._moving: tuple[float, float] | None = None
        self.read: Vectors | None = None
        """What the network of outcomes made of its words, where it was asked."""
        self.bare: list[Bare] | None = None
        """Its numbers that no entity holds, once they were looked for."""

    def meant(self, entity: Entity) -> float | None:
        """How likely the line is about a thing where it suspects or settles something; None: not judged."""
        found = self.understood.meant[slice(*entity.at)]
        return max(found) if found else None

    def moves(self, start: int, end: int) -> tuple[float, float] | None:
        """How likely some words are of fasteners that come off, and of such that go on; None: not judged."""
        found = self.understood.moves[start:end]
        if not found:
            return None
        if len(found) == 1:
            return found[0]
        return sum(off for off, _ in found) / len(found), sum(on for _, on in found) / len(found)

    def surely_moves(self, start: int, end: int, share: float, *, on: bool) -> bool:
        """Whether some words tell with so large a ``share`` of such that move so, hardly of the other way."""
        seen = self.moves(start, end)
        if seen is None:
            return False
        that, other = reversed(seen) if on else seen
        return that >= share and other <= 1 - share

    def surely(self) -> tuple[float, float]:
        """How sure the network is that something of it comes off, and that something goes on, 0 to 1.

        By the three surest words of each; 0 where it was not asked.
        """
        if self._moving is None:
            if not self.understood.moves:
                self._moving = 0.0, 0.0
                return self._moving
            off, on = [sorted(way, reverse=True)[:_OVER] for way in zip(*self.understood.moves, strict=True)]
            self._moving = sum(off) / len(off), sum(on) / len(on)
        return self._moving

    def since_break(self, at: int, most: int) -> int:
        """The first token of what leads up to token ``at`` without a break, at most so many before it."""
        return max([b for b in self.understood.breaks if b <= at] + [at - most, 0])

    def does(self, *acts: Act) -> bool:
        """Whether the utterance does any of these."""
        return not self.acts.isdisjoint(acts)

    def those(self, acts: Iterable[Act]) -> frozenset[Act]:
        """Those of these acts that the utterance does."""
        return self.acts.intersection(acts)

    def likely(self, act: Act) -> float:
        """How likely the model held an act, 0 to 1, whether the line does it or not; 0 where none judged."""
        scores = self.understood.likely
        return scores[_PLACE[act]] if scores else 0.0

    def barely(self, act: Act, below: float, *cues: str) -> bool:
        """Whether an act was given that the model held for less likely than this, with none of these cues."""
        return 0 < self.likely(act) < below and self.does(act) and not self.has(*cues)

    def entities(self, kind: type[E]) -> list[E]:
        """Its entities of one class, in order; the list is not to be changed."""
        return self._of_kind.get(kind, _NONE)

    def judged(self, before: Sequence[Line], after: Sequence[Line]) -> None:
        """Told when it ends a test or verification; only a line that is watched remembers."""

    def cues(self, prefix: str) -> list[Cue]:
        """Its cues whose name starts with ``prefix``."""
        if f" {prefix}" not in self._cued:
            return []
        return [c for c in self.understood.cues if c.name.startswith(prefix)]

    def has(self, *prefixes: str) -> bool:
        """Whether any cue's name starts with one of these."""
        cued = self._cued
        for prefix in prefixes:  # noqa: SIM110 - asked over and over, and a generator takes thrice as long
            if f" {prefix}" in cued:
                return True
        return False

    def which(self, prefixes: Iterable[str]) -> list[float]:
        """For each of these 1 where any cue's name starts with it, else 0: for the models."""
        cued = self._cued
        return [float(f" {prefix}" in cued) for prefix in prefixes]

    def sided(self, thing: Component | Material) -> str:
        """The name of a thing with its side, where that is said right before it: *left bearing*."""
        for place in self.entities(Position):
            side = [word for word in place.name.split() if word in LATERAL]
            if place.at[1] == thing.at[0] and side and side[0] not in thing.name.split():
                return f"{side[0]} {thing.name}"
        return thing.name

    def word_before(self, entity: Entity) -> str:
        """The nearest word before an entity that is no article or simple adjective, or an empty string."""
        i = entity.at[0] - 1
        while i >= 0 and self.tokens[i] in _ARTICLES:
            i -= 1
        return self.tokens[i] if i >= 0 else ""

    def is_place(self, entity: Entity) -> bool:
        """Whether an entity is only named as a place: *under the bracket*, *through a diode*."""
        if self._begins_anew(entity):
            return False
        before = self.word_before(entity)
        if before == "and" and "between" in self.tokens[: entity.at[0]]:
            return True
        if before == "between" and "in between" in self.before(entity):
            return False  # *the bit in between, the coupling*
        return before in _BEFORE_PLACE

    def _begins_anew(self, entity: Entity) -> bool:
        """*Drum off, shoes move free*: no word of another clause makes it a place."""
        i = entity.at[0]
        while i > 0 and i not in self.breaks and self.tokens[i - 1] in _ARTICLES:
            i -= 1
        return i in self.breaks

    def before(self, entity: Entity) -> str:
        """The words of the line that come before an entity."""
        return " ".join(self.tokens[: entity.at[0]])

    def main_components(self) -> list[Component]:
        """Components that are not merely places; all of them where every one is a place."""
        main = [c for c in self.components if not self.is_place(c)]
        return main or self.components[:1]

    @property
    def text(self) -> str:
        """The words after reading, with single spaces."""
        return " ".join(self.tokens)
