"""Figures: the numbers of an utterance one by one, and rows of them read as one number."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from narrator.language.tokens import Notes

NUMERAL = re.compile(r"\d{1,15}(?:[.,]\d{1,15})*", re.ASCII)
GROUPED = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", re.ASCII)
_WHOSE = frozenset("the its his her their my our those these".split())
FRACTION_PARTS = frozenset((2, 3, 4, 8, 16, 32, 64))


class Figure(NamedTuple):
    """One number: tokens ``start`` to ``end``, its value, and whether it was written in digits.

    ``form`` is whole, decimal, fraction, mixed, group (*a couple*) or zeroed (written with a leading zero).
    """

    start: int
    end: int
    value: float
    form: str
    written: bool = False

    @property
    def whole(self) -> bool:
        """A plain whole number."""
        return self.form == "whole"


@lru_cache(maxsize=4096)
def numeral(word: str) -> float | None:
    """The value of a written number, thousands commas and decimal commas understood; None if it is none."""
    if "/" in word:
        top, _, bottom = word.partition("/")
        parts = top.isascii() and top.isdigit(), bottom.isascii() and bottom.isdigit() and len(bottom) <= 3
        return int(top[:9]) / int(bottom) if all(parts) and int(bottom) in FRACTION_PARTS else None
    if not NUMERAL.fullmatch(word) or len(word) > 18:
        return None
    if GROUPED.fullmatch(word):
        word = word.replace(",", "")
    word = word.replace(",", ".")
    return float(word) if word.count(".") <= 1 else None


def join(figures: Sequence[Figure]) -> float | None:
    """A row of figures read as one number (*four twenty* 420, *one oh five* 105), or None if it cannot be."""
    if len(figures) == 1:
        return figures[0].value
    if len(figures) == 2 and all(f.whole and 0 < f.value < 10 for f in figures):
        return None  # "three nine" is no thirty nine
    digits, mixed = "", _mixed(figures)
    for n, figure in enumerate(figures):
        if mixed and n and figure.form == "zeroed" and figure.value < 10:
            digits += f"{figure.value:02.0f}"  # "one 05"
            continue
        last = n == len(figures) - 1
        if last and n and figure.form in ("decimal", "mixed") and 10 <= figure.value < 100 and digits:
            return int(digits) * 100 + figure.value
        if last and n > 1 and figure.form == "decimal" and figure.value < 10 and len(digits) == n:
            return int(digits) * 10 + figure.value  # "one two eight point four"
        if not figure.whole or figure.value != int(figure.value) or (figure.written and not mixed):
            return None
        value = int(figure.value)
        if last and value >= 100:
            return (
                int(digits) * 1000 + value
                if value < 1000 and value % 100 == 0 and int(digits) < 1000
                else None
            )
        if value >= 100:
            thousands = n == 0 and len(figures) == 2 and figures[1].whole and figures[1].value % 100 == 0
            if not thousands or not 100 <= figures[1].value < 1000:
                return None
        two_before = len(digits) % 2 == 0 and n and figures[n - 1].value >= 10
        if n and value < 10 and figures[n - 1].value >= 10 and two_before and value != 0:
            return None if len(figures) == 2 or last else _spelled(figures)
        digits += str(value)
    return float(digits) if len(digits) <= 9 else None


def _mixed(figures: Sequence[Figure]) -> bool:
    """Whether an engine wrote one part of a spoken number in digits: *14 two*, *1 oh five*."""
    written = [f for f in figures if f.written]
    return 0 < len(written) < len(figures) <= 3 and all(f.value < 100 for f in written)


def _spelled(figures: Sequence[Figure]) -> float | None:
    """Longer rows are read group by group: *one sixty seven two forty* 167240."""
    digits = "".join(str(int(f.value)) for f in figures if f.whole and f.value < 100)
    return float(digits) if 4 < len(digits) <= 9 else None


def join_thousands(words: Sequence[str], found: list[Figure]) -> None:
    """*one twenty two thousand*: figures before *thousand* are read as one number of thousands."""
    last = found[-1]
    if last.value < 1000 or last.written or "thousand" not in words[last.start : last.end]:
        return
    heads: list[Figure] = []
    for figure in reversed(found[:-1]):
        if (
            not figure.whole
            or figure.value >= 100
            or figure.end != (heads[-1].start if heads else last.start)
        ):
            break
        heads.append(figure)
    if not heads or last.value >= 100_000:
        return
    scale = Figure(last.start, last.start, float(int(last.value // 1000)), "whole")
    for count in range(len(heads), 0, -1):
        head = join([*reversed(heads[:count]), scale])
        if head is not None and 100 <= head < 1000:
            first = heads[count - 1]
            del found[-1 - count :]
            found.append(Figure(first.start, last.end, head * 1000 + last.value % 1000, "whole"))
            return


def implied_decimal(figures: Sequence[Figure]) -> float | None:
    """*fourteen two* as 14.2, *twelve six five* as 12.65: for quantities where only that makes sense."""
    written = any(f.written for f in figures) and not _mixed(figures)
    if len(figures) < 2 or written or any(not f.whole or f.value >= 100 for f in figures):
        return None
    if figures[0].value < 9 and figures[1].value >= 10:
        return None  # "six fifty" is no 6.5
    tail = "".join(str(int(f.value)) for f in figures[1:])
    return float(f"{int(figures[0].value)}.{tail}") if len(tail) <= 2 else None


@dataclass(slots=True)
class Figures:
    """The figures of an utterance, kept in ``notes.scratch["figures"]``."""

    all: list[Figure]
    starting: dict[int, Figure]
    _rows: dict[int, list[Figure]] = field(default_factory=dict)

    def run(self, start: int, marks: Mapping[int, str]) -> list[Figure]:
        """Figures that follow each other from token ``start`` with nothing between, by the line's marks."""
        if (row := self._rows.get(start)) is not None:
            return row  # every stage that reads numbers asks for it
        row, figure = [], self.starting.get(start)
        while figure is not None and (not row or figure.start not in marks):
            row.append(figure)
            figure = self.starting.get(figure.end)
        if row:
            self._rows[start] = row
        return row

    def put(self, found: Iterable[Figure]) -> None:
        """Have these in place of the figures so far."""
        self.all[:] = found
        self.starting.clear()
        self.starting.update((f.start, f) for f in self.all)
        self._rows.clear()


NONE = Figures([], {})


def is_share(notes: Notes, figure: Figure) -> bool:
    """Whether a number tells of how many some are: *eleven of the fourteen*, *five out of the ten*."""
    i, words = figure.start, notes.words
    out = figure.end if words[figure.end : figure.end + 2] == ["out", "of"] else i - 3
    if figure.whole and out > 0 and out not in notes.marks and words[out : out + 2] == ["out", "of"]:
        some = [f for f in figures_of(notes).all if f.end == out and f.whole]
        total = [f for f in figures_of(notes).all if f.start == out + 3 and words[out + 2] in _WHOSE]
        return bool(some and total) and 0 < some[0].value < total[0].value
    if not figure.whole or i < 3 or i in notes.marks or words[i - 2] != "of" or words[i - 1] not in _WHOSE:
        return False
    return any(f.end == i - 2 and f.whole and 0 < f.value < figure.value for f in figures_of(notes).all)


def figures_of(notes: Notes) -> Figures:
    """What the ``numbers`` stage found."""
    found = notes.scratch.get("figures", NONE)
    assert isinstance(found, Figures)
    return found
