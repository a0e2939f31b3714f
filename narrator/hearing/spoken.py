"""A written line as it is said, in words: what the language model and the pronunciations are about."""

from __future__ import annotations

import re

from narrator.phonetics import plain_letters
from narrator.wording import spell

_PIECE = re.compile(r"\d+(?:,\d{3})+|\d+\.\d+|\.\d+|\d+|[a-z]+(?:'[a-z]+)*|%")
_DIGITS = "zero one two three four five six seven eight nine".split()
_UNITS = {
    "mm": "millimeters", "nm": "newton meters", "v": "volts", "psi": "psi", "km": "kilometers",
    "%": "percent",
    "rpm": "rpm", "kpa": "kilopascals", "mv": "millivolts", "ma": "milliamps", "hz": "hertz",
    "kw": "kilowatts",
}  # fmt: skip
MONEY = {"$": "dollars", "£": "pounds", "€": "euros"}
_SUM = re.compile(r"([$£€])(\d[\d,]*)(?:\.(\d\d))?")
_GLUED = re.compile(r"(?<=\d)(?=[a-z])|(?<=[a-z])(?=\d)")


def in_words(text: str) -> str:
    """A written line as it is said: lower case, figures as words, plain letters, no punctuation."""
    text = plain_letters(text.lower()).replace("’", "'").replace("x-ray", "xray")
    text = _SUM.sub(lambda found: f"{found[2]} {MONEY[found[1]]} {found[3] or ''}", text)
    words: list[str] = []
    for piece in _PIECE.findall(_GLUED.sub(" ", text)):
        after_number = bool(words) and words[-1] in NUMBER_WORDS
        words += _said(piece, after_number).split()
    return " ".join(words)


NUMBER_WORDS = frozenset([*(spell(n) for n in range(20)), *(spell(n) for n in range(20, 100, 10)), "hundred"])

_FRACTIONS = "half halves quarter quarters eighth eighths sixteenth sixteenths".split()
_NUMERIC = NUMBER_WORDS.union(["thousand", "point", "oh"], _FRACTIONS)


def numeric(word: str) -> bool:
    """Whether a word says a number or spells a letter."""
    return word in _NUMERIC or (len(word) == 1 and word not in "aio")


def _said(piece: str, after_number: bool) -> str:
    if piece[0].isdigit() or piece[0] == ".":
        return _figure(piece.replace(",", ""))
    return _UNITS.get(piece, piece) if after_number or piece == "%" else piece


def _figure(digits: str) -> str:
    whole, _, part = digits.partition(".")
    if len(whole) > 6 or (len(whole) > 1 and whole[0] == "0"):
        return " ".join(_DIGITS[int(d)] for d in whole)
    said = spell(int(whole)) if whole else ""
    if 1900 <= int(whole or 0) <= 2099 and not part and int(whole) % 100 > 9:
        said = f"{spell(int(whole) // 100)} {spell(int(whole) % 100)}"
    return said + (" point " + " ".join(_DIGITS[int(d)] for d in part) if part else "")
