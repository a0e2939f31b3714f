"""A size said apart from its fastener: *both bolts out, thirteens*, *two nuts on the rod, fifteen mil*."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from narrator.language.bare import LENGTH_NOUNS, NEXT, TOOLS
from narrator.language.fastenernames import INCH, IS, MM, TORX_CODE
from narrator.language.figures import Figures
from narrator.language.sizes import HEADS, INCH_HEADS, PLURALS, TORX
from narrator.language.tables import load, used
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.values import Fastener, Size

if TYPE_CHECKING:
    from narrator.language.fasteners import _Reader

_ROW = load("fasteners")["apart"][0]
_LINKS = frozenset(_ROW["links"])
_NOT_BEFORE = frozenset(_ROW["not_before"])
_GOING_ON = frozenset(_ROW["going_on"])
_ENDS = frozenset(_ROW["ends"])
_CLAUSE, _PRONOUNS = frozenset(_ROW["clause"]), frozenset(_ROW["pronouns"])
_AWAY = frozenset(("off", "out", "undone", "removed", "loose"))
_FAR, _SMALLEST = 9, 4
"""So many words may stand between a fastener and a size that is plainly one."""
_OF_THOSE = (["of", "them"], ["of", "'em"], ["of", "em"], ["of", "those"])


class _Apart:
    """Looks to the right of each unsized fastener, as far as the next one."""

    def __init__(self, notes: Notes, found: Figures, reader: _Reader) -> None:
        self.notes, self.words, self.found, self.taken = notes, notes.words, found, reader.taken
        self.going_on = not _GOING_ON.isdisjoint(self.words)

    def word(self, i: int) -> str:
        return self.words[i] if 0 <= i < len(self.words) else ""

    def size(self, start: int, limit: int) -> tuple[Size, str | None, int, int] | None:
        """The first size between two fasteners: with its drive and the tokens that say it."""
        linked, i = True, start
        while i < min(limit, start + _FAR):
            if self.taken[i]:
                return None
            if (hit := self.at(i, linked)) and hit[2] <= limit and self.ends(hit[2]):
                return hit[0], hit[1], i, hit[2]
            figure = self.found.starting.get(i)
            if figure and self.words[figure.end : figure.end + 2] in _OF_THOSE:
                i = figure.end + 2
                continue
            if figure and figure.value == 1 and self.word(figure.end) in _LINKS:
                i = figure.end  # "is a one shot, thirty two mil"
                continue
            if figure and not (figure.end in self.notes.marks and i in self.notes.marks):
                return None  # another number comes first
            if self.word(i) in _CLAUSE and self.word(i + 1) not in _PRONOUNS:
                return None
            linked = self.word(i) in _CLAUSE or (linked and self.word(i) in _LINKS)
            i += 1
        return None

    def at(self, i: int, linked: bool) -> tuple[Size, str | None, int] | None:
        """A size at token ``i``; ``linked`` where only *is*, *off*, *all of them* ... stand before it."""
        word, before = self.word(i), "" if i in self.notes.marks else self.word(i - 1)
        if not linked and before in _NOT_BEFORE:
            return None
        if code := TORX_CODE.fullmatch(word.removesuffix("s")):
            size = float(code[1])
            end = i + 1 + (self.word(i + 1) == "torx")
            return (Size(size, "T"), "torx", end) if size in TORX else None
        figure = self.found.starting.get(i + 1)
        if figure and word == "torx" and figure.value in TORX:
            return Size(figure.value, "T"), "torx", figure.end
        if (value := PLURALS.get(word)) and value in HEADS and value > 2:
            return (Size(value, "mm"), None, i + 1) if before not in ("the", "their") else None
        figure = self.found.starting.get(i)
        if figure is None:
            return None
        after = self.word(figure.end) if figure.end not in self.notes.marks else ""
        if figure.value in INCH_HEADS and figure.form == "fraction":
            return Size(figure.value, "in"), None, figure.end + (after in INCH)
        if figure.value not in HEADS or figure.form not in ("whole", "decimal"):
            return None
        if after in MM and (linked or figure.value >= _SMALLEST):
            return Size(figure.value, "mm"), None, figure.end + 1
        copula = before in IS or before in ("an", "a", "size")
        parted = i in self.notes.marks and not self.going_on
        parted_off = parted and figure.end in self.notes.marks and _AWAY.intersection(self.words[:i])
        near = linked and (copula or parted)
        bare = figure.whole and figure.value >= 5 and (near or parted_off)
        return (Size(figure.value, "mm"), None, figure.end) if bare and self.alone(figure.end) else None

    def alone(self, end: int) -> bool:
        """Whether a number that ends at ``end`` has neither unit nor noun."""
        last = end >= len(self.words) or end in self.notes.marks or self.word(end) in _ENDS
        return last and not unit_at(self.words, end, clinging=True, part=False)

    def ends(self, end: int) -> bool:
        """Whether the phrase ends at ``end``: no tool, no length, no noun of another thing follows."""
        word = "" if end in self.notes.marks else self.word(end)
        if word in TOOLS or word in LENGTH_NOUNS:
            return False
        return not word or word in NEXT or word in _ENDS


def sizes_apart(notes: Notes, found: Figures, reader: _Reader) -> None:
    """Give unsized fasteners the size said after them."""
    named = sorted((e for e in notes.entities if isinstance(e, Fastener)), key=lambda e: e.at)
    apart = _Apart(notes, found, reader)
    for n, fastener in enumerate(named):
        if fastener.size is not None:
            continue
        limit = named[n + 1].at[0] if n + 1 < len(named) else len(notes.words)
        if hit := apart.size(fastener.at[1], limit):
            size, drive, start, end = hit
            notes.entities[notes.entities.index(fastener)] = replace(
                fastener, size=size, drive=fastener.drive or drive
            )
            used(notes).update(range(start, end))
            for i in range(start, end):
                reader.taken[i] = True
