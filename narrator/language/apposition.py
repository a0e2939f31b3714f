"""A size said apart from its fastener: *both bolts out, thirteens*, *two nuts on the rod, fifteen mil*."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from narrator.language.bare import LENGTH_NOUNS, NEXT, TOOLS
from narrator.language.fastenernames import GOING_ON, INCH, IS, MM, TORX_CODE
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
_ENDS = frozenset(_ROW["ends"])
_CLAUSE, _PRONOUNS = frozenset(_ROW["clause"]), frozenset(_ROW["pronouns"])
_BETWEEN = frozenset(("and", "that", "which", "on", "it", "with", "they're", "they"))
_SITS = frozenset("at the in top bottom front back rear upper lower behind below above up down".split())
_AWAY = frozenset(("off", "out", "away", "undone", "removed", "loose"))
_IT_IS_A = (["it", "is", "a"], ["it", "'s", "a"], ["that", "is", "a"], ["that", "'s", "a"])
_FAR, _SMALLEST = 9, 4
"""So many words may stand between a fastener and a size that is plainly one."""
_OF_THOSE = (["of", "them"], ["of", "'em"], ["of", "em"], ["of", "those"])


class _Apart:
    """Looks to the right of each unsized fastener, as far as the next one."""

    def __init__(self, notes: Notes, found: Figures, reader: _Reader) -> None:
        self.notes, self.words, self.found, self.taken = notes, notes.words, found, reader.taken
        self.going_on = not GOING_ON.isdisjoint(self.words)

    def word(self, i: int) -> str:
        return self.words[i] if 0 <= i < len(self.words) else ""

    def size(self, start: int, limit: int) -> tuple[Size, str | None, int, int] | None:
        """The first size between two fasteners: with its drive and the tokens that say it."""
        linked, i, told = True, start, -1
        while i < min(limit, start + _FAR):
            if self.taken[i]:
                return None
            if (hit := self.at(i, linked, told=i == told)) and hit[2] <= limit and self.ends(hit[2]):
                return hit[0], hit[1], i, hit[2]
            figure = self.found.starting.get(i)
            if figure and self.words[figure.end : figure.end + 2] in _OF_THOSE:
                i = told = figure.end + 2
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

    def at(self, i: int, linked: bool, *, told: bool = False) -> tuple[Size, str | None, int] | None:
        """A size at token ``i``; ``linked`` where only *is*, *off*, *all of them* ... stand before it."""
        word, before = self.word(i), "" if i in self.notes.marks else self.word(i - 1)
        if not linked and before in _NOT_BEFORE and self.words[max(0, i - 3) : i] not in _IT_IS_A:
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
        if figure is None or before in ("the", "their"):  # "both clamps, the eight mil": another one
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
        told = told or self.words[max(0, i - 3) : i] in _IT_IS_A  # "out of the tank, it is a seventeen"
        near = (linked or told) and (copula or parted or (told and not self.going_on))
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

    def shares(self, fastener: Fastener, limit: int) -> list[tuple[int, Size, int, int]]:
        """*two bolts, one is seventeen and one is thirteen*: count, size and tokens of each share."""
        found: list[tuple[int, Size, int, int]] = []
        i, left = fastener.at[1], fastener.count or 0
        while i < limit and left > 0:
            start, figure = i, self.found.starting.get(i)
            other = self.words[i : i + 2] == ["the", "other"]
            single = self.word(i) in ("a", "an") and self.found.starting.get(i + 1) is not None
            if not (other or single or (figure and figure.whole and figure.value < (fastener.count or 0))):
                if self.word(i) not in (_BETWEEN | _SITS if found else _BETWEEN):
                    break
                i += 1
                continue
            count = left if other else 1 if single else int(figure.value) if figure else 0
            i = i + 2 if other else i if single else figure.end if figure else i + 1
            i += self.word(i) in ("is", "'s", "are", "of", "was")
            i += self.word(i) in ("a", "an")
            size = self.found.starting.get(i)
            if (
                size is None
                or size.value not in HEADS
                or not size.whole
                or unit_at(self.words, size.end, clinging=True, part=False)
            ):
                break
            i, left = size.end + (self.word(size.end) in MM), left - count
            found.append((count, Size(size.value, "mm"), start, i))
        return found if len(found) > 1 and left == 0 else []


def sizes_apart(notes: Notes, found: Figures, reader: _Reader) -> None:
    """Give unsized fasteners the size said after them."""
    named = sorted((e for e in notes.entities if isinstance(e, Fastener)), key=lambda e: e.at)
    if not named:
        return
    apart = _Apart(notes, found, reader)
    for n, fastener in enumerate(named):
        if fastener.size is not None:
            continue
        limit = named[n + 1].at[0] if n + 1 < len(named) else len(notes.words)
        if (fastener.count or 0) > 1 and (parts := apart.shares(fastener, limit)):
            split_up(notes, reader, fastener, parts)
        elif hit := apart.size(fastener.at[1], limit):
            size, drive, start, end = hit
            notes.entities[notes.entities.index(fastener)] = replace(
                fastener, size=size, drive=fastener.drive or drive
            )
            used(notes).update(range(start, end))
            for i in range(start, end):
                reader.taken[i] = True


def split_up(
    notes: Notes, reader: _Reader, fastener: Fastener, parts: list[tuple[int, Size, int, int]]
) -> None:
    """Enter a fastener's shares in its place, each of its own size."""
    notes.entities.remove(fastener)
    for n, (count, size, start, end) in enumerate(parts):
        at = (fastener.at[0] if n == 0 else start, end)
        span = notes.span(*at)
        notes.entities.append(replace(fastener, span=span, at=at, count=count, size=size, count_said=True))
        for i in range(*at):
            reader.taken[i] = True
