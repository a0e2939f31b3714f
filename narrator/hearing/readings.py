"""Ways in which a written figure may have been said, and the choice among them by the sound.

A dictation writes "113" for "one thirteen" and "54.95" for "fifty four ninety five"; which was said matters
to a count and a size. The second ear tells which of the ways fits the sound.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import islice, product
from typing import Protocol

from narrator.hearing.acoustics import Floats
from narrator.hearing.spoken import MONEY, in_words
from narrator.values import Word
from narrator.wording import spell

_FIGURE = re.compile(
    r"(?P<money>[$£€])?(?P<whole>\d{1,3}(?:,\d{3})+|\d+)?(?P<part>\.\d+)?(?P<more>(?:[-:/]\d+)*)"
    r"(?P<unit>[a-z%]*)(?P<end>[.,;:!?]*)",
    re.I,
)
_PARTED = re.compile(r"\d+([-:/]\d+)+")
_FRACTIONS = {"2": "half", "4": "quarter", "8": "eighth", "16": "sixteenth", "32": "thirty second"}
_DIGITS = "zero one two three four five six seven eight nine".split()
_LONGEST = 7
"""Rows of more digits are not taken apart: there are too many ways."""
_MOST = 60
"""Ways tried at most."""
MARGIN = 4.0
"""By how much (a log weight) a way must fit better than the usual one."""
_LANGUAGE = 0.5
"""Weight of the trade's language beside the fit."""


class Judge(Protocol):
    """The part of the second ear that is needed."""

    @property
    def language(self) -> Language:
        """The trade's language."""
        ...

    def fits(self, scores: Floats, texts: Sequence[Sequence[str]]) -> list[float]:
        """How well texts fit the sound."""
        ...


class Language(Protocol):
    """The part of a language model that is needed."""

    def score(self, words: Sequence[str]) -> float:
        """Log probability of a sentence."""
        ...


@lru_cache(maxsize=4096)
def readings(word: str) -> tuple[str, ...]:
    """Ways in which a written figure may have been said, the usual one first; none for what is no figure."""
    found = _FIGURE.fullmatch(word)
    if not found or not any(c.isdigit() for c in word):
        return ()
    unit = in_words("1" + found["unit"]).split()[1:] if found["unit"] else []
    whole, part = (found["whole"] or "").replace(",", ""), found["part"] or ""
    if (found["more"] and (part or not whole or found["money"])) or (found["money"] and not whole):
        return ()
    if found["money"]:
        ways = _sums(MONEY[found["money"]], whole, part[1:])
    elif found["more"]:
        ways = _parted([whole, *re.split("[-:/]", found["more"])[1:]], found["more"][0])
    else:
        ways = _ways(whole, part)
    return tuple(islice(dict.fromkeys([in_words(word), *(" ".join([way, *unit]) for way in ways)]), _MOST))


def _kept(word: str) -> frozenset[str]:
    """What a figure says as it stands: the number in its usual forms; of parted ones fractions and dashes."""
    if not (parted := _PARTED.match(word)):
        usual = in_words(word)
        with_and = usual.replace("hundred ", "hundred and ")
        year, bare = usual.replace("twenty ", "two thousand ", 1), usual.removeprefix("zero ")
        return frozenset([usual, with_and, year, bare, f"oh {bare}"])
    fractions = {*_fraction(*parted[0].split("/"))} if parted[0].count("/") == 1 else set()
    return frozenset(fractions | {way for way in readings(word) if " dash " in way})


def _parted(parts: list[str], sign: str) -> Iterator[str]:
    """Numbers with a sign between them: two numbers run together, a fraction, or spelled with dashes."""
    if len(parts) == 2 and sign == "/":
        yield from _fraction(*parts)
    between = (" ", " dash ") if sign == "-" else (" ",)
    for row in product(*map(_row, parts)):
        yield from (sign.join(row) for sign in between)


def _fraction(above: str, below: str) -> Iterator[str]:
    if below in _FRACTIONS and len(above) < 3:
        name = _FRACTIONS[below] + "s" * (above != "1")
        yield f"{spell(int(above))} {name.replace('halfs', 'halves')}"


def _sums(money: str, whole: str, part: str) -> Iterator[str]:
    """A sum of money: with or without its unit."""
    for one in _row(whole):
        yield from (" ".join(filter(None, (one, unit, in_words(part)))) for unit in (money, ""))


def _ways(whole: str, part: str) -> Iterator[str]:
    if not part:
        yield from _row(whole)
        return
    said = " ".join(_DIGITS[int(d)] for d in part[1:])
    if whole in ("", "0"):
        yield from (f"point {said}", f"zero point {said}", f"oh point {said}")
    if whole:
        yield from (f"{one} point {said}" for one in _row(whole))
        yield from (f"{one} {other}" for one in _row(whole) for other in _row(part[1:]))


@lru_cache(maxsize=1024)
def _row(digits: str) -> tuple[str, ...]:
    """Ways to say a row of digits: as one number, by twos, one by one."""
    ways: list[str] = []
    if len(digits) <= 6 and (len(digits) == 1 or digits[0] != "0"):
        ways += [spell(int(digits)), spell(int(digits)).replace("hundred ", "hundred and ")]
        if len(digits) == 4 and digits.endswith("00") and digits[1] != "0":
            ways.append(f"{spell(int(digits[:2]))} hundred")
    if len(digits) <= _LONGEST:
        ways += _taken_apart(digits)
    return tuple(dict.fromkeys(ways))


def _taken_apart(digits: str) -> list[str]:
    if not digits:
        return [""]
    heads = [(_DIGITS[int(digits[0])], 1)] + [("oh", 1)] * (digits[0] == "0")
    if len(digits) > 1 and digits[0] != "0":
        heads.append((spell(int(digits[:2])), 2))
    return [f"{head} {rest}".strip() for head, size in heads for rest in _taken_apart(digits[size:])]


def as_said(words: Sequence[Word], scores: Floats, ear: Judge) -> list[Word]:
    """The words, figures in the way in which the sound has them, where that is clearly not what they say."""
    said = [in_words(word.word).split() for word in words]
    found: list[Word] = []
    for i, word in enumerate(words):
        way = _fitting(word.word, said, i, scores, ear)
        if way is None:
            found.append(word)
            continue
        said[i] = way.split()
        end = re.search(r"[.,;:!?]*$", word.word)
        parts = [*said[i][:-1], said[i][-1] + (end[0] if end else "")]
        found += [replace(word, word=part) for part in parts]
    return found


def _fitting(word: str, said: Sequence[Sequence[str]], at: int, scores: Floats, ear: Judge) -> str | None:
    """The way that fits clearly best in the place of word ``at``, unless the word says that as it stands."""
    ways = readings(word)
    kept = _kept(word) if ways else frozenset()
    if kept.issuperset(ways):
        return None
    before = [word for row in said[:at] for word in row]
    after = [word for row in said[at + 1 :] for word in row]
    texts = [[*before, *way.split(), *after] for way in ways]
    totals = [
        fit + _LANGUAGE * ear.language.score(text)
        for fit, text in zip(ear.fits(scores, texts), texts, strict=True)
    ]
    as_it_stands = max((t for way, t in zip(ways, totals, strict=True) if way in kept), default=-math.inf)
    best, way = max((t, way) for way, t in zip(ways, totals, strict=True) if way not in kept)
    return way if best > as_it_stands + MARGIN else None
