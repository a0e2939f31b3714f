"""Sizes and drives that stand for fasteners: *both tens*, *three torx*, *one seventeen*, *22 off*.

What only the session can settle (*the fourteen to thirty two*) is left as a candidate in
``notes.scratch["candidates"]`` for the memory.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from narrator.language.candidates import Candidate, candidates
from narrator.language.fastenernames import MM
from narrator.language.figures import Figure, Figures
from narrator.language.sizes import HEADS, INCH_HEADS, PLURALS, STANDARD, TORX, split_size
from narrator.language.tables import load, used
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.values import Fastener, Size

if TYPE_CHECKING:
    from narrator.language.fasteners import _Reader

_TABLE = load("fasteners")
_MOTION = _TABLE["motion"][0]
MOTION = frozenset(_MOTION["words"])
AGAINST = frozenset(_MOTION["against"])
NEXT = frozenset(_MOTION["next"])
_TOOL = frozenset(_TABLE["tool"][0]["words"])
LENGTH_NOUNS = frozenset(load("quantities")["length"][0]["words"])
DETERMINERS = frozenset(("the", "a", "that", "this", "other", "last", "another", "an"))
_ALLEN = frozenset(("allen", "allens", "hex"))
_TORX = frozenset(("torx", "t", "tx"))
_DRIVEN = {
    word: row["drive"]
    for row in _TABLE["drive"]
    if not row["unit"]
    for word in row["words"]
    if " " not in word and row["drive"] in ("phillips", "pozidriv", "slotted", "square")
}
_NAMED = PLURALS.keys() | {"torx", "allens"} | _DRIVEN.keys()


_OF_THOSE = (["of", "the"], ["of", "those"], ["of", "them"])
_WHICH = frozenset(("new", "old", "other", "same", "remaining", "last", "first"))


class _Bare:
    """Looks for bare sizes in one utterance."""

    def __init__(self, notes: Notes, found: Figures, reader: _Reader) -> None:
        self.notes, self.found, self.words = notes, found, notes.words
        self.ending = reader.ending
        self.taken = notes.taken()
        for i in used(notes):
            self.taken[i] = True

    def word(self, i: int) -> str:
        return self.words[i] if 0 <= i < len(self.words) else ""

    def free(self, start: int, end: int) -> bool:
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
            return int(figure.value), figure.start
        if before == "both":
            return 2, i - 1
        if before in ("a", "another", "one"):
            return 1, i - 1
        if before == "the" and (self.word(i - 2) in ("both", "all")):
            return (2 if self.word(i - 2) == "both" else None), i - 2
        return None, i

    def is_tool(self, i: int) -> bool:
        """Whether the size that ends at ``i`` is a tool's own."""
        word = self.word(i)
        if i in self.notes.marks:
            return False
        return word in _TOOL or (word in ("allen", "hex", "torx", "point") and self.word(i + 1) in _TOOL)

    # -------------------------------------------------------- drives

    def drives(self) -> None:
        """*three torx twenties*, *seven t twenty*, *both allens*."""
        for i, word in enumerate(self.words):
            if self.taken[i]:
                continue
            if word in _TORX or (word[0] == "t" and word[1:].rstrip("s").isdigit() and word.isascii()):
                self.torx(i)
            elif word in _DRIVEN and not self.is_tool(i + 1):
                self.driven(i)
            elif word in ("allens", "torxes") or (word == "allen" and not self.is_tool(i + 1)):
                self.allen(i)

    def torx(self, i: int) -> None:
        """Enter a fastener named by its Torx number alone (*three torx twenties*, *a t thirty*)."""
        word, end, size = self.word(i), i + 1, None
        if word not in _TORX:
            size = float(word[1:].rstrip("s"))
        elif figure := self.found.starting.get(end):
            size, end = figure.value, figure.end
            end += self.word(end) == "s"
            if self.word(end) in PLURALS and size + PLURALS[self.word(end)] in TORX:
                size, end = size + PLURALS[self.word(end)], end + 1
        elif self.word(end) in PLURALS:
            size, end = PLURALS[self.word(end)], end + 1
        if (size is not None and size not in TORX) or (size is None and word != "torx"):
            return
        if self.is_tool(end) or (end < len(self.words) and self.taken[end]):
            return
        count, start = self.count_before(i)
        if size is None and count is None and self.word(i - 1) not in ("the", "those", "these"):
            return
        if size is None and count is not None and count in TORX and count >= 10 and start == i - 1:
            size, count, start = float(count), *self.count_before(start)  # "thirty torx"
        made = Size(size, "T") if size is not None else None
        self.enter(self.make((start, end), count, made, "size.torx", "torx"))

    def driven(self, i: int) -> None:
        """*two phillips and a t fifteen*: a drive for the screw, where it is counted."""
        count, start = self.count_before(i)
        after = self.word(i + 1) if i + 1 not in self.notes.marks else ""
        if count is not None and (not after or after in NEXT):
            self.enter(self.make((start, i + 1), count, None, "size.driven", _DRIVEN[self.word(i)]))

    def allen(self, i: int) -> None:
        """Enter a fastener named by its Allen head alone, its size in mm before the word."""
        start, size = i, None
        if (self.word(i - 1) in MM and (figure := self.ending.get(i - 1))) or (
            (figure := self.ending.get(i)) and (before := self.ending.get(figure.start)) and before.whole
        ):
            size, start = figure.value, figure.start
        count, first = self.count_before(start)
        if count is None and size is None:
            return
        made = Size(size, "mm") if size is not None else None
        self.enter(self.make((first, i + 1), count, made, "size.allen", "hex"))

    # -------------------------------------------------------- plural sizes

    def plurals(self) -> None:
        """*both tens*, *three 13s*, *the two seventeens*."""
        for i, word in enumerate(self.words):
            size, start = PLURALS.get(word), i
            if size is None and word in ("s", "'s") and (figure := self.ending.get(i)) and figure.written:
                size, start = figure.value, figure.start
            tens = self.ending.get(start) if size is not None and size < 10 else None
            if tens and size and tens.value in (20, 30) and tens.value + size in HEADS:  # "twenty sevens"
                size, start = tens.value + size, tens.start
            start -= self.word(start - 1) == "m"
            if word in ("ones", "twos") and not tens:
                continue
            start -= self.word(start - 1) in _WHICH and start not in self.notes.marks
            if size is None or self.taken[i] or size not in HEADS or self.is_tool(i + 1):
                continue
            count, first = self.count_before(start)
            if (
                count is None
                and self.word(start - 1) in ("the", "them", "those")
                and self.word(start - 2) == "of"
            ):
                count, first = self.count_before(start - 2)  # "four of the thirteens"
            if count is None and self.word(first - 1) not in ("the", "all", "those", "these", "them"):
                continue
            if self.word(start - 1) in ("in", "their") or count == 1:
                continue
            self.enter(self.make((first, i + 1), count, Size(size, "mm"), "size.plural"))

    # -------------------------------------------------------- singular sizes

    def singles(self) -> None:
        """*three eight mil and two twelve mil*, *a ten mil on it*, *one seventeen*, *the fourteen*."""
        done = 0
        for figure in self.found.all:
            if figure.start < done or not self.free(figure.start, figure.end):
                continue
            row = self.found.run(figure.start, self.notes.marks)
            done = row[-1].end
            last = row[-1]
            if self.word(figure.start - 1) == "all" and figure.whole and 2 <= figure.value <= 40:
                self.everyone(figure, row)
                continue
            if self.word(last.end) in MM and last.end not in self.notes.marks:
                self.with_unit(row, last.end + 1)
            else:
                self.without_unit(row)

    def everyone(self, figure: Figure, row: list[Figure]) -> None:
        """*all three nine newton metres*: a count alone, if so many are known of."""
        after = self.word(figure.end) if figure.end not in self.notes.marks else ""
        if self.word(figure.start - 2) in ("in", "of"):
            return  # "grease in all three"
        if len(row) == 1 and after and after not in NEXT:
            return
        at = (figure.start, figure.end)
        made = self.make(at, int(figure.value), None, "size.all")
        candidates(self.notes).append(Candidate(made, strong=False))

    def with_unit(self, row: list[Figure], end: int) -> None:
        """Enter a bare size said with its unit (*two eight mil*); ``end`` is the token after the unit."""
        last = row[-1]
        after = self.word(end) if end not in self.notes.marks else ""
        if self.is_tool(end) or after in LENGTH_NOUNS:
            return
        if after in ("and", "or") and last.value in HEADS and len(row) == 1:
            for named in self.notes.entities:  # "thirteen mil and ten mil nuts"
                if isinstance(named, Fastener) and named.size and named.at[0] == end + 1:
                    made = self.make((last.start, end), None, Size(last.value, "mm"), "size.shared")
                    self.enter(replace(made, kind=named.kind))
                    return
        motion = not MOTION.isdisjoint(self.words)
        if len(row) == 2 and row[0].whole and row[0].value <= 24 and last.value in HEADS:
            at = (row[0].start, end)
            self.enter(self.make(at, int(row[0].value), Size(last.value, "mm"), "size.counted"))
        elif len(row) == 1 and last.value in HEADS and self.word(last.start - 1) in DETERMINERS:
            if (after and after not in NEXT) or self.describes(last.start - 1):
                return
            one = 1 if self.word(last.start - 1) in ("a", "another", "an") else None
            start = last.start - (one is not None)
            self.enter(self.make((start, end), one, Size(last.value, "mm"), "size.single"))
        elif (
            len(row) == 1
            and last.value >= 100
            and motion
            and (split := split_size(last.value))
            and split.count > 1
        ):
            if after not in NEXT and after:
                return
            made = self.make((last.start, end), split.count, Size(split.size, "mm"), "size.counted")
            candidates(self.notes).append(Candidate(made, strong=True))

    def describes(self, article: int) -> bool:
        """Whether *a ten mil* tells the size of something else (*the nipple's an eight mil*)."""
        verb = self.word(article - 1)
        return verb in ("is", "'s") and self.word(article - 2) not in (
            "it",
            "that",
            "this",
            "there",
            "here",
            "one",
        )

    def without_unit(self, row: list[Figure]) -> None:
        """Enter a bare size said without a unit (*both seventeens*) where it is a standard head size."""
        last, end = row[-1], row[-1].end
        if last.form == "fraction":
            self.inches(row)
            return
        if not last.whole or last.value not in HEADS or self.is_tool(end):
            return
        if unit_at(self.words, end, clinging=last.written, part=False):
            return
        before = self.word(row[0].start - 1) if row[0].start not in self.notes.marks else ""
        after = self.word(end) if end not in self.notes.marks else ""
        if len(before) == 1 and before not in "am'":
            return  # "c j four eight"
        calm = AGAINST.isdisjoint(self.words)
        near = set(self.words[max(0, row[0].start - 4) : end + 4])
        moving = calm and not MOTION.isdisjoint(near)
        follows = not after or after in NEXT
        if len(row) == 2 and row[0].whole and row[0].value <= 12 and last.value in STANDARD:
            if not calm or before in ("to", "at", "reads", "is", "pulls", "from", "and", "now"):
                return
            at = (row[0].start, end)
            made = self.make(at, int(row[0].value), Size(last.value, "mm"), "size.counted")
            candidates(self.notes).append(Candidate(made, moving and follows))
        elif len(row) == 1 and last.value >= 5 and (before in DETERMINERS or not before):
            if self.describes(last.start - 1):
                return
            one = 1 if before in ("a", "another") else None
            made = self.make(
                (last.start - (one is not None), end), one, Size(last.value, "mm"), "size.single"
            )
            listed = before == "the" and after in (
                "on",
                "off",
                "out",
                "in",
                "to",
                "up",
                "back",
                "behind",
                "under",
            )
            out = (not before and after in ("off", "out")) or (not before and after == "back" and calm)
            candidates(self.notes).append(Candidate(made, (listed and calm and last.value >= 8) or out))

    def inches(self, row: list[Figure]) -> None:
        """*three seven sixteenths off the cover*: counted inch sizes that move."""
        last, end = row[-1], row[-1].end
        after = self.word(end) if end not in self.notes.marks else ""
        if last.value not in INCH_HEADS or self.is_tool(end) or (after and after not in NEXT):
            return
        if len(row) == 2 and row[0].whole and row[0].value <= 12:
            at: tuple[int, int] = (row[0].start, end)
            count: int | None = int(row[0].value)
        elif len(row) == 1 and self.word(last.start - 1) in ("the", "one", "both"):
            both = self.word(last.start - 1) == "both"
            at, count = (last.start - both, end), 2 if both else None
        else:
            return
        made = self.make(at, count, Size(last.value, "in"), "size.counted")
        candidates(self.notes).append(
            Candidate(made, not MOTION.isdisjoint(self.words) and AGAINST.isdisjoint(self.words))
        )


def find_bare(notes: Notes, found: Figures, reader: _Reader) -> None:
    """Fasteners that only a drive or a size names."""
    named = any(w in _NAMED or (w[0] == "t" and w[-1].isdigit()) for w in notes.words)
    if not found.all and not named:
        return
    bare = _Bare(notes, found, reader)
    bare.drives()
    bare.plurals()
    bare.singles()
