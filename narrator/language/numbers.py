"""Numbers as spoken in a shop: words, digits or both, each as a figure with its place.

A figure is what English reads as one number (*four hundred and twenty*, *twelve point four*, *five and a
half*). What a shop says in several figures (*four twenty*, *one oh five*, *two ten mil bolts*) stays several:
whether they are one reading or a count and a size is settled by whoever knows what follows. ``join`` reads a
row of figures as one number.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from narrator.language.context import LENGTH, STIRS
from narrator.language.figures import Figure, Figures, join_thousands, numeral
from narrator.language.numberwords import (
    BARE,
    DENOMINATORS,
    DIGITS,
    FRACTIONS,
    GROUPS,
    ONES,
    ORDINAL,
    POINT_NOUN,
    POINTS,
    SCALES,
    SIGNS,
    STARTERS,
    TEENS,
    TENS,
    TIMING,
    TOLD_OF,
    ZERO,
)
from narrator.language.pointed import TWICE, same_again
from narrator.language.selfcorrect import drop_corrected
from narrator.language.stage import stage
from narrator.language.tokens import Notes
from narrator.language.units import STARTS

_DIGIT = re.compile(r"\d")
_AFTER_ARTICLE = GROUPS.keys() | BARE | SCALES
_SIZES = frozenset(("mil", "mils", "mm"))
_THOUSANDS = frozenset(("thousand", "million"))
_RULED = frozenset(("eighth", "sixteenth"))
_GROUPED = frozenset(("a", "an", "half", *GROUPS))
_NEXT_CLAUSE = frozenset(("or", "and", "at", "so", "but", "when", "with", "if", "now", "on", "each"))
"""Words that may follow *a tenth* where it is a value."""
_TWO_OF = frozenset((("quarter", 2), ("quarter", 4), ("quarter", 6)))
"""Two of a quarter inch, never two quarters of one."""


class _Parser:
    """Reads the figures of one utterance from left to right."""

    def __init__(self, words: Sequence[str], marks: Mapping[int, str]) -> None:
        self.words = words
        self.marks = marks
        self.size = len(words)
        self.scaled = not _THOUSANDS.isdisjoint(words)
        self.parted = not FRACTIONS.isdisjoint(words)

    def word(self, i: int) -> str:
        return self.words[i] if i < self.size else ""

    def may_begin(self, i: int) -> bool:
        """Whether a number begins at token ``i``, one of ``STARTERS``: at most articles none does."""
        return self.words[i] not in ("a", "an") or self.word(i + 1) in _AFTER_ARTICLE

    def joined(self, i: int) -> bool:
        """Nothing is written between token ``i`` and the one before."""
        return i not in self.marks

    def ends(self, i: int) -> bool:
        """Whether a clause may end before token ``i``."""
        return i >= self.size or i in self.marks or self.words[i] in _NEXT_CLAUSE

    def below_hundred(self, i: int) -> tuple[int, int] | None:
        """The number 0 to 99 in words from token ``i``: its value and the token after it."""
        word = self.word(i)
        if word in TENS:
            one = ONES.get(self.word(i + 1)) if self.joined(i + 1) else None
            if one is None and self.joined(i + 1) and (written := self.digits(i + 1, 1)):
                one = written[0]  # "twenty 5"
            if one is not None and self.word(i + 2) not in SCALES:
                return int(TENS[word] + one), i + 2
            return int(TENS[word] + (one or 0)), i + 1 + (one is not None)
        for table in (ONES, TEENS, ZERO):
            if word in table:
                return int(table[word]), i + 1
        return self.digits(i, 2)

    def digits(self, i: int, most: int) -> tuple[int, int] | None:
        """Up to ``most`` digits among number words (*a hundred and 21 thousand*), no size of a fastener."""
        word = self.word(i)
        if not word.isascii() or not word.isdigit() or len(word) > most or word[0] == "0":
            return None
        return None if self.word(i + 1) in _SIZES or self.word(i + 1) in POINTS else (int(word), i + 1)

    def _tens(self, i: int) -> bool:
        """Whether a number from ten on follows at once."""
        return self.joined(i) and (self.word(i) in TEENS or self.word(i) in TENS)

    def tail(self, i: int, read: str) -> tuple[int, int]:
        """What follows *hundred* or *thousand*: (*and*) a smaller number, or nothing."""
        if not self.joined(i) and not (read == "thousand" and self.marks[i] == ","):
            return 0, i
        after = i + (self.word(i) == "and")
        found = self.below_hundred(after) if read == "hundred" else self.below_thousand(after)
        if found is None or self.word(found[1]) == "hundred" or found[0] == 0:
            return 0, i
        if read == "thousand" and self.word(found[1]) in ("thousand", "million"):
            return 0, i
        return found

    def below_thousand(self, i: int) -> tuple[int, int] | None:
        """The number 0 to 999 in words from token ``i``: its value and the token after it."""
        word = self.word(i)
        if word == "a" and self.word(i + 1) == "hundred":
            found: tuple[int, int] | None = (1, i + 1)
        elif word == "hundred":
            found = (1, i)
        else:
            found = self.below_hundred(i) or self.digits(i, 3)
        if found and self.word(found[1]) == "hundred" and found[0]:
            rest, end = self.tail(found[1] + 1, "hundred")
            again = 0 < rest < 10 and abs(rest - found[0]) <= 1 and self._tens(end)
            if (found[0] >= 20 or again) and rest < 10 and self.word(found[1] + 1) != "and":
                rest, end = 0, found[1] + 1  # "fifty two hundred five minutes", "nine hundred nine ten"
            return found[0] * 100 + rest, end
        return found

    def cardinal(self, i: int) -> tuple[int, int] | None:
        """A number in words below a thousand million, and where it ends."""
        if not self.scaled:
            return self.below_thousand(i)
        total, end = 0, i
        for scale, name in ((1_000_000, "million"), (1000, "thousand")):
            start = end + (total > 0 and self.word(end) == "and")
            head = self.below_thousand(start)
            if head is None and self.word(start) in ("a", name):
                head = (1, start + (self.word(start) == "a"))
            linked = not total or self.joined(end) or self.marks[end] == ","
            if head and self.word(head[1]) == name and linked:
                total += head[0] * scale
                end = head[1] + 1
        if not total:
            return self.below_thousand(i)
        rest, end = self.tail(end, "thousand")
        return total + rest, end

    def decimals(self, i: int) -> tuple[str, int] | None:
        """Digits after a point: *four*, *oh oh two*, *eighty five*, *25*."""
        digits, start = "", i
        while i < self.size and len(digits) < 4 and (i == start or self.joined(i)):
            word = self.words[i]
            if digits and self.word(i + 1) in POINTS:
                break  # "three point one three point one"
            if digits and word == "one" and self.word(i + 1) in ("side", "way", "end"):
                break  # "point three one side and point four the other"
            if digits and self.word(i + 1) == "'s" and self.word(i + 2) in TOLD_OF:
                break  # "one's point eight two's point nine"
            if word in DIGITS and (word != "o" or i > start or self.word(i + 1) in DIGITS):
                digits += str(int(DIGITS[word]))
                i += 1
            elif word.isascii() and word.isdigit() and len(word) <= 4 and not digits:
                return word, i + 1
            elif not digits and (word in TEENS or word in TENS):
                found = self.below_hundred(i)
                return (str(found[0]), found[1]) if found else None
            else:
                break
        return (digits, i) if digits else None

    def denominator(self, i: int) -> tuple[int, int] | None:
        """The denominator of a spoken fraction from token ``i``: its value and the token after it."""
        word, after = self.word(i), self.word(i + 1)
        if word in DENOMINATORS:
            return int(DENOMINATORS[word]), i + 1
        if word in ("thirty", "30") and after in ("second", "seconds", "2nds"):
            return 32, i + 2
        if word in ("sixty", "60") and after in ("fourth", "fourths", "4ths"):
            return 64, i + 2
        if word in ("32", "16", "64", "8", "4") and after in ORDINAL:
            return int(word), i + 2
        return None

    def fraction(self, i: int) -> Figure | None:
        """*three eighths*, *two thirty seconds*, *half* before a unit."""
        word = self.word(i)
        moved = word in ("a", "an") and i > 0 and (self.words[i - 1] in STIRS or self.words[i - 1] == "by")
        if moved and self.word(i + 1) in _RULED:
            return Figure(i, i + 2, 1 / DENOMINATORS[self.word(i + 1)], "fraction")  # "it wobbles an eighth"
        if word in ("a", "an") and self.word(i + 1) in BARE:
            inner = self._bare(i + 1)
            if inner is None and self.word(i + 1) == "tenth" and self.ends(i + 2):
                return Figure(i, i + 2, 0.1, "decimal")  # "it ought to be a tenth"
            return inner and Figure(i, inner.end, inner.value, "fraction")
        if word in BARE:
            return self._bare(i)
        written = word[:1].isdigit()
        head = ((int(v), i + 1) if (v := numeral(word)) and v == int(v) else None) if written else None
        head = head or self.below_hundred(i)
        if head is None or not 0 < head[0] < 64:
            return None
        bottom = self.denominator(head[1]) if self.joined(head[1]) else None
        if bottom is None or head[0] >= 2 * bottom[0]:
            return None
        if (self.words[head[1]], head[0]) in _TWO_OF or (self.words[head[1]] == "half" and head[0] > 1):
            return None  # "two half inch bolts"
        if bottom[0] in (32, 64) and not TIMING.isdisjoint(self.words):
            return None
        if self.words[head[1]] in ("eights", "tenth", "third") and self.word(bottom[1]) not in STARTS:
            return None
        return Figure(i, bottom[1], head[0] / bottom[0], "fraction", written)

    def _bare(self, i: int) -> Figure | None:
        after = i + 1
        after += self.word(after) == "of"
        after += self.word(after) in ("a", "an")
        follow = self.word(after)
        thread = self.word(i) == "quarter" and follow in ("twenty", "20", "28")
        if self.word(i) == "half" and follow == "dozen":
            return Figure(i, after + 1, 6, "group")
        moved = (
            self.word(i + 1) == "of" and follow in LENGTH and self.word(i) in _RULED
        )  # "an eighth of slop"
        if not thread and not moved and follow not in STARTS and follow not in ("drive", "ratchet", "thou"):
            return None
        return Figure(i, i + 1, 1 / DENOMINATORS[self.word(i)], "fraction")

    def mixed(self, figure: Figure) -> Figure:
        """*and a half*, *and three quarters*, *1/4* after a whole number."""
        i = figure.end
        if not figure.whole or not self.joined(i):
            return figure
        word = self.word(i)
        if "/" in word and figure.written and (part := numeral(word)) is not None and part < 1:
            return Figure(figure.start, i + 1, figure.value + part, "mixed", True)
        if word in SIGNS:
            return Figure(figure.start, i + 1, figure.value + SIGNS[word], "mixed", True)
        if word != "and":
            return figure
        j = i + 1
        if "/" in self.word(j) and (part := numeral(self.word(j))) is not None and part < 1:
            return Figure(figure.start, j + 1, figure.value + part, "mixed")
        j += self.word(j) in ("a", "an", "one")
        if self.word(j) in BARE:
            return Figure(figure.start, j + 1, figure.value + 1 / DENOMINATORS[self.word(j)], "mixed")
        part_figure = self.fraction(i + 1)
        if part_figure and part_figure.value < 1 and figure.value >= 1:
            return Figure(figure.start, part_figure.end, figure.value + part_figure.value, "mixed")
        return figure

    def grouped(self, i: int) -> Figure | None:
        """*a couple of*, *the pair*, *two dozen*."""
        start = i
        i += self.word(i) in ("a", "an")
        word = self.word(i)
        if word == "half" and self.word(i + 1) == "a" and self.word(i + 2) == "dozen":
            return Figure(start, i + 3, 6, "group")
        if word not in GROUPS or (word == "couple" and start == i and self.word(i + 1) != "of"):
            return None
        end = i + 1 + (self.word(i + 1) == "of")
        return Figure(start, end, GROUPS[word], "group")

    def figure(self, i: int) -> Figure | None:
        """The longest figure that starts at token ``i``."""
        word = self.words[i]
        found = self.grouped(i) if word in _GROUPED else None
        if found or (self.parted and (found := self.fraction(i))):
            return found
        if word in SIGNS:
            return Figure(i, i + 1, SIGNS[word], "fraction", True)
        if word in POINTS:
            return self._leading_point(i)
        if word[:1].isdigit():
            return self._numeral(i)
        found_words = self.cardinal(i)
        if found_words is None or (word in ("a", "an") and found_words[1] == i):
            return None
        value, end = found_words
        if self.word(end) == "dozen" and value < 20:
            return Figure(i, end + 1, value * 12, "group")
        if self.word(end) in POINTS and self.joined(end) and (rest := self.decimals(end + 1)):
            return Figure(i, rest[1], float(f"{value}.{rest[0]}"), "decimal")
        return self.mixed(Figure(i, end, float(value), "whole"))

    def _numeral(self, i: int) -> Figure | None:
        word = self.words[i]
        value = numeral(word)
        if value is None or self.word(i + 1) in ORDINAL:
            return None
        if "/" in word:
            return Figure(i, i + 1, value, "fraction", True)
        if value != int(value) or "." in word:
            return Figure(i, i + 1, value, "decimal", True)
        if self.word(i + 1) in ("thousand", "hundred", "million") and self.joined(i + 1):
            scale = {"hundred": 100, "thousand": 1000, "million": 1_000_000}[self.word(i + 1)]
            rest, end = self.tail(i + 2, "hundred" if scale == 100 else "thousand")
            if scale == 100 and value >= 20 and rest < 10 and self.word(i + 2) != "and":
                rest, end = 0, i + 2
            return Figure(i, end, value * scale + rest, "whole", True)
        if self.word(i + 1) in POINTS and self.joined(i + 1) and (rest_digits := self.decimals(i + 2)):
            return Figure(i, rest_digits[1], float(f"{int(value)}.{rest_digits[0]}"), "decimal", True)
        if len(word) > 1 and word[0] == "0":
            return Figure(i, i + 1, value, "zeroed", True)
        return self.mixed(Figure(i, i + 1, value, "whole", True))

    def _leading_point(self, i: int) -> Figure | None:
        before = self.words[i - 1] if i else ""
        listed = before in DIGITS and i > TWICE and self.words[i - 1 - TWICE] == "point"
        if (before in POINT_NOUN and not listed) or self.words[i] != "point":
            return None
        rest = same_again(self.words, self.marks, i) or self.decimals(i + 1)
        if rest is None:
            return None
        return Figure(i, rest[1], float(f"0.{rest[0]}"), "decimal")


def find_figures(words: Sequence[str], marks: Mapping[int, str]) -> list[Figure]:
    """Every figure of an utterance, left to right; they do not overlap."""
    found: list[Figure] = []
    written = _DIGIT.search("".join(words)) is not None
    if not written and STARTERS.isdisjoint(words):
        return found
    parser, free = _Parser(words, marks), 0
    for i, word in enumerate(words):
        if i < free:
            continue
        begins = parser.may_begin(i) if word in STARTERS else written and word[0].isdigit()
        figure = parser.figure(i) if begins else None
        if figure is None and word in ("oh", "o") and found and found[-1].end == i and i not in marks:
            after = words[i + 1] if i + 1 < parser.size else ""
            if after in DIGITS:
                figure = Figure(i, i + 1, 0.0, "whole")
        if figure is not None:
            found.append(figure)
            free = figure.end
            join_thousands(words, found)
    return found


@stage("numbers")
def numbers_stage(notes: Notes) -> None:
    """Pipeline stage: fills ``notes.scratch["figures"]`` and ``notes.scratch["dropped"]``."""
    found = find_figures(notes.words, notes.marks)
    if found:
        found = drop_corrected(notes, found)
        notes.scratch["figures"] = Figures(found, {f.start: f for f in found})
