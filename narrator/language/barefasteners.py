"""Sizes and drives that stand for fasteners: *both tens*, *three torx*, *one seventeen*, *22 off*.

What only the session can settle (*the fourteen to thirty two*) is left as a candidate in
``notes.scratch["candidates"]`` for the memory.
"""

from __future__ import annotations

from dataclasses import replace

from narrator.language.bare import LENGTH_NOUNS, NEXT, Bare
from narrator.language.baredrives import DRIVEN, BareDrives, tell_drive
from narrator.language.candidates import Candidate, candidates
from narrator.language.fastenernames import INCH, MM
from narrator.language.figures import Figure, Figures, is_share
from narrator.language.sizes import HEADS, INCH_HEADS, PLURALS, STANDARD, split_size
from narrator.language.tables import load
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.values import Fastener, Size

_TABLE = load("fasteners")
_MOTION = _TABLE["motion"][0]
MOTION = frozenset(_MOTION["words"])
AGAINST = frozenset(_MOTION["against"])
DETERMINERS = frozenset(("the", "a", "that", "this", "other", "last", "another", "an"))
_NAMED = PLURALS.keys() | {"torx", "allens"} | DRIVEN.keys()


_CLINGING = frozenset(("s", "'s"))
"""The plural of a written size: *three 13s*."""
_PLURAL = PLURALS.keys() | _CLINGING
_READ = frozenset(
    (
        "to",
        "at",
        "reads",
        "is",
        "pulls",
        "from",
        "and",
        "now",
        "till",
        "until",
        "holds",
        "shows",
        "says",
        "gets",
        "gives",
    )
)
"""What makes two figures a reading, no count and size (*holds four twelve*)."""
_ONLY_TORX = (20, 5)
"""*Four twenty fives*: no other head is of 25."""
_CUTS = frozenset("trim trims trimmed cut cuts shave shaved skim skimmed file filed grind ground".split())
"""*Trim ten mil off the wire* is a length."""
_DONE_UP = frozenset(("snug", "tight", "nipped", "torqued", "in", "back", "out", "off", "home"))
_OF_THOSE = (["of", "the"], ["of", "those"], ["of", "them"])
OWN_HEX = frozenset(_MOTION["own_hex"])
_HUNG = tuple([verb, "on"] for verb in ("hangs", "is", "'s", "sits", "held", "hung"))
_WHICH = frozenset(("new", "old", "other", "same", "remaining", "last", "first"))


class BareSizes(Bare):
    """Looks for bare sizes in one utterance."""

    def plurals(self) -> None:
        """*both tens*, *three 13s*, *the two seventeens*."""
        for i, word in () if _PLURAL.isdisjoint(self.words) else enumerate(self.words):
            if word not in _PLURAL:
                continue
            size, start = PLURALS.get(word), i
            if size is None and word in _CLINGING and (figure := self.ending.get(i)) and figure.written:
                size, start = figure.value, figure.start
            inch = word in _CLINGING and (figure := self.ending.get(i)) and figure.form == "fraction"
            if inch and figure and figure.value in INCH_HEADS and self.free(figure.start, i):
                self.plural_inches(figure, i + 1)
                continue
            tens = self.ending.get(start) if size is not None and size < 10 else None
            if tens and size and (tens.value, size) == _ONLY_TORX:
                self.torx(Size(sum(_ONLY_TORX), "T"), tens.start, i + 1)
                continue
            if tens and size and tens.value in (20, 30) and tens.value + size in HEADS:  # "twenty sevens"
                size, start = tens.value + size, tens.start
            start -= self.word(start - 1) == "m"
            if word in ("ones", "twos", "threes") and not tens:
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
            named = self.word(first - 1) in ("the", "all", "those", "these", "them")
            if count is None and not named and not self.stands_apart(start, i + 1):
                continue
            if self.word(start - 1) in ("in", "their") or count == 1:
                continue
            self.enter(self.make((first, i + 1), count, Size(size, "mm"), "size.plural"))

    def torx(self, size: Size, start: int, end: int) -> None:
        """Enter a size that only a Torx head has, said with no *t*, where it is counted."""
        count, first = self.count_before(start)
        if count is not None and self.free(first, end):
            self.enter(self.make((first, end), count, size, "size.torx", "torx"))

    def stands_apart(self, start: int, end: int) -> bool:
        """*take the three off, tens*: a size by itself at the end of a clause."""
        closed = end >= len(self.words) or end in self.notes.marks
        return closed and start > 1 and (start in self.notes.marks or self.word(start - 1) in ("off", "out"))

    def plural_inches(self, figure: Figure, end: int) -> None:
        """*two of the 3/8s*: a written inch size in the plural."""
        start = figure.start
        of_the = self.word(start - 1) in ("the", "them", "those") and self.word(start - 2) == "of"
        count, first = self.count_before(start - 2 if of_the else start)
        if count is not None or self.word(start - 1) in ("the", "all", "those", "these"):
            first = first if count is not None else start
            self.enter(self.make((first, end), count, Size(figure.value, "in"), "size.plural"))

    # -------------------------------------------------------- singular sizes

    def singles(self) -> None:
        """*three eight mil and two twelve mil*, *a ten mil on it*, *one seventeen*, *the fourteen*."""
        done = 0
        for figure in self.found.all:
            if figure.start < done or not self.free(figure.start, figure.end):
                continue
            if is_share(self.notes, figure):
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
        if self.word(figure.start - 2) in ("in", "of", "on"):
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
        if self.is_tool(end) or after in LENGTH_NOUNS or self.word(row[0].start - 1) in _CUTS:
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
        elif len(row) == 1 and last.value in HEADS and (more := self.more(last.start)):
            made = self.make((more.start, end), int(more.value), Size(last.value, "mm"), "size.counted")
            self.enter(made)  # "two more eight mil behind"
        elif len(row) == 1 and last.value in HEADS and self.word(last.start - 1) in DETERMINERS:
            if (after and after not in NEXT) or self.describes(last.start - 1):
                return
            one = 1 if self.word(last.start - 1) in ("a", "another", "an") else None
            start = last.start - (one is not None)
            self.enter(self.make((start, end), one, Size(last.value, "mm"), "size.single"))
        elif len(row) == 1 and last.value in HEADS and after in _DONE_UP and last.value >= 5:
            made = self.make((last.start, end), None, Size(last.value, "mm"), "size.single")
            candidates(self.notes).append(Candidate(made, strong=False))  # "click, eight mil snug"
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

    def more(self, start: int) -> Figure | None:
        """The count of *two more*, if it ends right before token ``start``."""
        figure = self.ending.get(start - 1) if self.word(start - 1) in ("more", "other") else None
        return figure if figure and figure.whole and figure.value <= 12 else None

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

    def counts_other(self, row: list[Figure], after: str) -> bool:
        """*Ten times up and down*, *nine out of ten*; or the hex of a part that is no fastener."""
        end = row[-1].end
        share = self.words[end : end + 2] == ["out", "of"] and end + 2 in self.found.starting
        share = share or is_share(self.notes, row[-1])
        return share or after in ("times", "percent") or self.is_own_hex(row[-1].start)

    def is_own_hex(self, start: int) -> bool:
        """*Filler plug out that's a seventeen*: the hex of a part that screws in itself."""
        told = self.words[max(0, start - 3) : start] in (
            ["that", "'s", "a"],
            ["it", "'s", "a"],
            ["that", "is", "a"],
        )
        told = told and not OWN_HEX.isdisjoint(self.words[max(0, start - 6) : start - 3])
        return told or self.is_screwed_in(start)

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
        which = row[0].start - 1
        if unit_at(self.words, which, clinging=False, part=False):
            return  # "two minutes, five, ten"
        if (
            self.word(which) in _WHICH and self.word(which - 1) in DETERMINERS
        ):  # "the new twelve to twenty two"
            which -= 1
        before = self.word(which) if row[0].start not in self.notes.marks else ""
        after = self.word(end) if end not in self.notes.marks else ""
        placed = after == "on" and end + 1 in self.found.starting  # "twelve on one, eight on two"
        if placed or self.counts_other(row, after) or (len(before) == 1 and before not in "am'"):
            return  # "c j four eight"
        calm = AGAINST.isdisjoint(self.words)
        near = set(self.words[max(0, row[0].start - 4) : end + 4])
        moving = calm and not MOTION.isdisjoint(near)
        follows = not after or after in NEXT
        joined: Fastener | None = None
        if len(row) == 2 and row[0].whole and row[0].value <= 12 and last.value in STANDARD:
            if before == "and" and any(isinstance(e, Fastener) for e in self.notes.entities):
                before = ""  # "two ten mil nuts at the head and one fourteen on the arm"
                joined = self.joined(row[0].start)
            if not calm or before in _READ:
                return
            at = (row[0].start, end)
            made = self.make(at, int(row[0].value), Size(last.value, "mm"), "size.counted")
            made = replace(made, kind=joined.kind) if joined else made
            candidates(self.notes).append(Candidate(made, (moving or joined is not None) and follows))
        elif len(row) == 1 and last.value >= 5 and (before in DETERMINERS or not before):
            if self.describes(last.start - 1):
                return
            one = 1 if before in ("a", "another") else None
            made = self.make(
                (last.start - (one is not None), end), one, Size(last.value, "mm"), "size.single"
            )
            if one and calm and follows and self.hangs(made, which):
                return
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

    def hangs(self, made: Fastener, which: int) -> bool:
        """*And the ball joint hangs on a twenty two*, after another nut: entered, of its kind."""
        hung = self.joined(which) if self.words[max(0, which - 2) : which] in _HUNG else None
        if hung and made.size and made.size.value >= 8:
            self.enter(replace(made, kind=hung.kind))
            return True
        return False

    def joined(self, start: int) -> Fastener | None:
        """A sized fastener named before token ``start`` in the same sentence: its kind is meant again."""
        named = [e for e in self.notes.entities if isinstance(e, Fastener) and e.size and e.at[1] <= start]
        last = max(named, key=lambda e: e.at, default=None)
        if last is None or any(
            self.notes.marks.get(i, "") in ".?!"
            for i in range(last.at[1], start + 1)
            if i in self.notes.marks
        ):
            return None
        return last

    def inches(self, row: list[Figure]) -> None:
        """*three seven sixteenths off the cover*: counted inch sizes that move."""
        last, end = row[-1], row[-1].end
        end += self.word(end) in INCH and end not in self.notes.marks
        after = self.word(end) if end not in self.notes.marks else ""
        listed = end in self.found.starting  # "two quarter inch two ten mils"
        if last.value not in INCH_HEADS or self.is_tool(end) or (after and after not in NEXT and not listed):
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


def may_be_bare(notes: Notes, found: Figures) -> bool:
    """Whether an utterance has a number, or a word that may stand for a fastener by itself."""
    if found.all or not _NAMED.isdisjoint(notes.words):
        return True
    return bool([w for w in notes.words if w[0] == "t" and w[-1].isdigit()])  # any() takes twice as long


def find_bare(notes: Notes, found: Figures) -> None:
    """Fasteners that only a drive or a size names."""
    if not may_be_bare(notes, found):
        return
    Bare(notes, found).use_own_hexes()
    if tell_drive(notes.words):
        BareDrives(notes, found).drives()
    bare = BareSizes(notes, found)
    bare.plurals()
    bare.singles()
