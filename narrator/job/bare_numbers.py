"""Numbers of a line that no entity holds, as values: *and I read twenty six*, *the maker tolerates 25*."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from narrator.job.ledger_words import ledger_words
from narrator.job.line import Line

_TENS = {
    word: 10.0 * n
    for n, word in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), start=2)
}
_FIGURES = re.compile(r"\d+(\.\d+)?")
_POINT = "point"
_DIGITS = 10


@dataclass(frozen=True, slots=True)
class Bare:
    """A number without a unit, and the tokens that say it (start, end)."""

    value: float
    at: tuple[int, int]


def bare_numbers(line: Line) -> list[Bare]:
    """Every number that belongs to no entity; *one* alone is a pronoun as often, so it counts for none.

    Found when first asked for; the list is not to be changed.
    """
    if line.bare is None:
        line.bare = list(_found(line))
    return line.bare


def _found(line: Line) -> Iterator[Bare]:
    words, begin, end = line.tokens, _begin(), 0
    starts = [i for i, word in enumerate(words) if word in begin or word[:1].isdigit()]
    taken = {i for e in line.understood.entities for i in range(*e.at)} if starts else ()
    for i in starts:
        number = _at(words, i) if i >= end and i not in taken else None
        if number is None:
            continue
        end = number.at[1]
        if words[i:end] != ("one",) and not any(k in taken for k in range(i, end)):
            yield number


@lru_cache(maxsize=1)
def _begin() -> frozenset[str]:
    """The words that a number may begin with."""
    return frozenset((*ledger_words().numbers, *_TENS, _POINT))


def _at(words: tuple[str, ...], i: int) -> Bare | None:
    if _FIGURES.fullmatch(words[i]):
        return Bare(float(words[i]), (i, i + 1))
    ones = ledger_words().numbers
    end, value = i, 0.0
    if words[i] in _TENS:
        value, end = _TENS[words[i]], i + 1
        if end < len(words) and ones.get(words[end], _DIGITS) < _DIGITS:
            value, end = value + ones[words[end]], end + 1
    elif words[i] in ones:
        value, end = float(ones[words[i]]), i + 1
    if words[end : end + 1] == (_POINT,):
        digits: list[str] = []
        while (k := end + 1 + len(digits)) < len(words) and ones.get(words[k], _DIGITS) < _DIGITS:
            digits.append(str(ones[words[k]]))
        if digits:
            return Bare(value + float("0." + "".join(digits)), (i, end + 1 + len(digits)))
    return Bare(value, (i, end)) if end > i else None
