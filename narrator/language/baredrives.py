"""Drives that stand for fasteners: *three torx twenties*, *both allens*, *two phillips*."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from narrator.language.bare import NEXT, Bare
from narrator.language.fastenernames import MM, THREAD
from narrator.language.figures import Figure
from narrator.language.sizes import PLURALS, TORX
from narrator.language.tables import load, taken_back
from narrator.language.units import unit_at
from narrator.values import Size

_TORX = frozenset(("torx", "t", "tx"))
DRIVEN = {
    word: row["drive"]
    for row in load("fasteners")["drive"]
    if not row["unit"]
    for word in row["words"]
    if " " not in word and row["drive"] in ("phillips", "pozidriv", "slotted", "square")
}
_ONE = frozenset(("a", "the", "one", "another", "that"))
_TELLING = DRIVEN.keys() | _TORX | {"allen", "allens", "torxes"}


@lru_cache(maxsize=4096)
def may_be_drive(word: str) -> bool:
    """Whether a word may tell a drive that stands for fasteners."""
    numbered = word[0] == "t" and word[1:].rstrip("s").isdigit() and word.isascii()
    return numbered or word in _TELLING


def tell_drive(words: Sequence[str]) -> bool:
    """Whether any of some words may."""
    return not _TELLING.isdisjoint(words) or any(map(may_be_drive, [w for w in words if w[0] == "t"]))


class BareDrives(Bare):
    """Looks for drives that are counted or sized, with no noun."""

    def drives(self) -> None:
        """*three torx twenties*, *seven t twenty*, *both allens*."""
        for i, word in enumerate(self.words):
            if not may_be_drive(word) or self.taken[i]:
                continue
            if word in _TORX or (word[0] == "t" and word[1:].rstrip("s").isdigit() and word.isascii()):
                self.torx(i)
            elif word in DRIVEN and not self.is_tool(i + 1):
                self.driven(i)
            elif word in ("allens", "torxes") or (word == "allen" and not self.is_tool(i + 1)):
                self.allen(i)

    def torx(self, i: int) -> None:
        """Enter a fastener named by its Torx number alone (*three torx twenties*, *a t thirty*)."""
        word, end, size = self.word(i), i + 1, None
        again = word == "torx" and self.word(end) in ("t", "tx") and end not in self.notes.marks
        end += again  # "three torx t twenty fives"
        if word not in _TORX:
            size = float(word[1:].rstrip("s"))
        elif (figure := self.found.starting.get(end)) and not self.is_measured(figure):
            size, end = figure.value, figure.end
            end += self.word(end) == "s"
            if self.word(end) in PLURALS and size + PLURALS[self.word(end)] in TORX:
                size, end = size + PLURALS[self.word(end)], end + 1
        elif self.word(end) in PLURALS:
            size, end = PLURALS[self.word(end)], end + 1
            ones = self.found.starting.get(end)  # "torx twenties five"
            if ones and ones.whole and size + ones.value in TORX and size % 10 == 0 and ones.value < 10:
                size, end = size + ones.value, ones.end
        if (size is not None and size not in TORX) or (size is None and word != "torx"):
            return
        if self.is_tool(end) or (end < len(self.words) and self.taken[end]):
            return
        count, start = self.count_before(self.past_adjectives(i))
        if count is None:
            start = i
        if size is None and count is None and self.word(i - 1) not in ("the", "those", "these"):
            return
        if size is None and count is not None and count in TORX and count >= 10 and start == i - 1:
            size, count, start = float(count), *self.count_before(start)  # "thirty torx"
        made = Size(size, "T") if size is not None else None
        self.enter(self.make((start, end), count, made, "size.torx", "torx"))

    def is_measured(self, figure: Figure) -> bool:
        """Whether a number has a unit of its own: *the same two torx, nine newton metres*."""
        return unit_at(self.words, figure.end, clinging=True, part=False) is not None

    def driven(self, i: int) -> None:
        """*two phillips and a t fifteen*: a drive for the screw, where it is counted."""
        count, start = self.count_before(self.past_adjectives(i))
        after = self.word(i + 1) if i + 1 not in self.notes.marks else ""
        named = i + 1 < len(self.words) and self.taken[i + 1] and i + 1 not in taken_back(self.notes)
        several = count is not None and count > 1 and not named
        if count is not None and (not after or after in NEXT or several):
            self.enter(self.make((start, i + 1), count, None, "size.driven", DRIVEN[self.word(i)]))

    def allen(self, i: int) -> None:
        """Enter a fastener named by its Allen head alone, its size in mm before the word."""
        start, size = i, None
        figure = self.ending.get(i)
        if thread := THREAD.fullmatch(self.word(i - 1)):
            size, start = float(thread[1]), i - 1  # "one m6 allen"
        elif figure and self.word(i) == "allen" and self.word(figure.start - 1) in _ONE:
            size, start = figure.value, figure.start  # "a five allen to hold the pin"
        elif figure and self.word(figure.start - 1) == "m":
            size, start = figure.value, figure.start - 1  # "three m five allens"
        elif (self.word(i - 1) in MM and (figure := self.ending.get(i - 1))) or (
            figure and (before := self.ending.get(figure.start)) and before.whole
        ):
            size, start = figure.value, figure.start
        count, first = self.count_before(self.past_adjectives(start))
        if count is None and (size is None or self.is_screwed_in(start)):
            return
        made = Size(size, "mm" if size >= 1 else "in") if size is not None else None
        self.enter(self.make((first, i + 1), count, made, "size.allen", "hex"))
