"""What readers of bare sizes and drives share: counts before them, tools after them, entering a fastener."""

from __future__ import annotations

from narrator.language.fastenernames import ADJECTIVES, MM
from narrator.language.figures import Figure, Figures
from narrator.language.sizes import HEADS
from narrator.language.tables import load, taken_back, used
from narrator.language.tokens import Notes
from narrator.values import Fastener, Size

_TABLE = load("fasteners")
NEXT = frozenset(_TABLE["motion"][0]["next"])
TOOLS = frozenset(_TABLE["tool"][0]["words"])
LENGTH_NOUNS = frozenset(load("quantities")["length"][0]["words"])
SCREWED_IN = frozenset(_TABLE["motion"][0]["screwed_in"])
_MOVED = frozenset("out off undone loose cracked first back in".split())
_WHOSE = frozenset("the its his her their my those these".split())
_NOT_SKIPPED = frozenset(w for row in _TABLE["drive"] for w in row["words"])
_NOT_SKIPPED |= {"single", "m", "by", "number", "size"}


def _taken(notes: Notes) -> list[bool]:
    """The tokens that entities cover or a stage has used."""
    taken = notes.taken()
    if "used" in notes.scratch or "dropped" in notes.scratch:
        for i in used(notes) | taken_back(notes):
            taken[i] = True
    return taken


class Bare:
    """Looks for bare sizes in one utterance."""

    def __init__(self, notes: Notes, found: Figures, taken: list[bool] | None = None) -> None:
        self.notes, self.found, self.words = notes, found, notes.words
        self.ending = {figure.end: figure for figure in found.all}
        self.taken = _taken(notes) if taken is None else taken

    def word(self, i: int) -> str:
        """Token ``i``, empty outside the utterance."""
        return self.words[i] if 0 <= i < len(self.words) else ""

    def free(self, start: int, end: int) -> bool:
        """Whether no entity covers any of these tokens."""
        return not any(self.taken[start:end])

    def make(
        self, at: tuple[int, int], count: int | None, size: Size | None, rule: str, drive: str | None = None
    ) -> Fastener:
        """A fastener of the usual kind for its drive; the memory may know better."""
        return Fastener(
            span=self.notes.span(*at),
            at=at,
            rule=rule,
            kind="bolt" if drive in (None, "hex") else "screw",
            count=count,
            size=size,
            drive=drive,
            count_said=count is not None,
        )

    def enter(self, fastener: Fastener) -> None:
        """Keep a fastener and take its tokens."""
        self.notes.entities.append(fastener)
        for i in range(*fastener.at):
            self.taken[i] = True

    def count_before(self, i: int) -> tuple[int | None, int]:
        """The count that ends before token ``i``, and the first token of it."""
        if i in self.notes.marks:
            return None, i
        before = self.word(i - 1)
        figure = self.ending.get(i)
        counts = figure and figure.form in ("whole", "group") and 1 <= figure.value <= 100
        if figure and counts and self.free(figure.start, i):
            some = self.some_of(figure)  # "eleven of the twelve tens"
            return int((some or figure).value), (some or figure).start
        if before == "both":
            return 2, i - 1
        if before in ("a", "another", "one"):
            return 1, i - 1
        if before == "the" and (self.word(i - 2) in ("both", "all")):
            return (2 if self.word(i - 2) == "both" else None), i - 2
        return None, i

    def some_of(self, whole: Figure) -> Figure | None:
        """Of how many of them a number tells: *seventeen of the eighteen tens*; None where it is of all."""
        if self.word(whole.start - 1) not in _WHOSE or self.word(whole.start - 2) != "of":
            return None
        some = self.ending.get(whole.start - 2 - (self.word(whole.start - 3) == "out"))
        return some if some and some.whole and 0 < some.value < whole.value else None

    def past_adjectives(self, i: int) -> int:
        """*three little torx twenties*: the token at which the adjectives before ``i`` begin."""
        while i > 0 and i not in self.notes.marks and self.word(i - 1) in ADJECTIVES - _NOT_SKIPPED:
            if i in self.ending:
                break  # "twelve t thirties", though a bolt may be twelve point
            i -= 1
        return i

    def is_screwed_in(self, start: int) -> bool:
        """*Drain plug out, nineteen mil*: the hex of a part that screws in itself, at token ``start``."""
        i = start - 1
        while i >= start - 3 and self.word(i) in _MOVED:
            i -= 1
        return i < start and self.word(i) in SCREWED_IN

    def use_own_hexes(self) -> None:
        """Lay aside sizes of parts that screw in themselves: no fasteners, and no readings."""
        if SCREWED_IN.isdisjoint(self.words):
            return
        for figure in self.found.all:
            end = figure.end + (self.word(figure.end) in MM)
            metric = figure.whole and figure.value in HEADS and end > figure.end
            if metric and self.is_screwed_in(figure.start) and self.free(figure.start, end):
                used(self.notes).update(range(figure.start, end + (self.word(end) in ("allen", "hex"))))

    def is_tool(self, i: int) -> bool:
        """Whether the size that ends at ``i`` is a tool's own."""
        word = self.word(i)
        if i in self.notes.marks:
            return False
        return word in TOOLS or (word in ("allen", "hex", "torx", "point") and self.word(i + 1) in TOOLS)
