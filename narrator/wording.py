"""Text brought to one spelling, and the word error rate between what was said and what was heard.

Engines write the same speech in different ways ("twelve point four volts", "12.4 volts", "$48.50",
"KT4217"); an error rate must not count that. ``plain_words`` spells everything out, drops case,
punctuation and the *and* inside numbers, and puts spoken and written unit names together. How a unit is
printed stands here too.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from rapidfuzz.distance import Levenshtein

_ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_SAME = {
    "mm": "millimeter", "mil": "mill", "nm": "newton meter", "km": "kilometer", "kw": "kilowatt",
    "hz": "hertz", "millimetre": "millimeter", "metre": "meter", "kilometre": "kilometer", "ok": "okay",
    "alright": "all right", "halfway": "half way", "xray": "x ray",
    "um": "", "uh": "", "hm": "", "hmm": "", "and": "", "%": "percent",
}  # fmt: skip
_MONEY = {"$": ("dollars", "cents"), "£": ("pounds", "pence")}
_PIECE = re.compile(r"[$£]\d+(?:\.\d+)?|\d+(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?|[a-z]+|%")
_SINGULAR = re.compile(r"(?<=[^s]{3})s$")
_PLURAL = re.compile(r"\b(\d{2,}|" + "|".join((*_ONES[10:], *_TENS[2:])) + r") ?s\b")
"""Sizes in the plural: "13s", "thirteen s"; a single digit before an s is spelled ("6 S")."""
_CODE = re.compile(r"\b(?=[a-z\d]*\d)[a-z]{1,2}\d[a-z\d]*\b|\b\d+[a-z](?=\d)[a-z\d]*\b")


SIGNS: dict[str, str] = {
    "Ohm": "Ω", "kOhm": "kΩ", "MOhm": "MΩ", "Cel": "°C", "degF": "°F", "N.m": "N·m", "ft.lbf": "ft·lbf",
    "in.lbf": "in·lbf", "A.h": "A·h", "deg": "°", "uA": "µA", "uF": "µF", "inH2O": "inH₂O",
}  # fmt: skip
"""How a contract symbol is printed, where not as it is."""
_TIGHT = {"%", "°"}


def with_sign(number: str, symbol: str) -> str:
    """A number and its printed unit: ``25 N·m``, ``60%``."""
    sign = SIGNS.get(symbol, symbol)
    return f"{number}{sign}" if sign in _TIGHT else f"{number} {sign}".rstrip()


def spell(number: int) -> str:
    """A whole number from 0 to 999,999 in words, without *and*."""
    if number < 20:
        return _ONES[number]
    if number < 100:
        return _TENS[number // 10] + (f" {_ONES[number % 10]}" if number % 10 else "")
    size, name = (1000, "thousand") if number >= 1000 else (100, "hundred")
    rest = number % size
    return f"{spell(number // size)} {name}" + (f" {spell(rest)}" if rest else "")


def plain_words(text: str) -> list[str]:
    """The words of a text in one spelling, so that only what was heard wrongly differs."""
    text = text.lower().replace("’", "").replace("'", "")
    text = _PLURAL.sub(r"\1", text)
    text = _CODE.sub(lambda found: " ".join(found.group()), text)
    words: list[str] = []
    for piece in _PIECE.findall(text):
        words += _spelled(piece).split()
    return [_SINGULAR.sub("", word) for word in words]


def _spelled(piece: str) -> str:
    if piece[0] in _MONEY:
        large, small = _MONEY[piece[0]]
        whole, _, part = piece[1:].partition(".")
        return f"{_number(whole)} {large}" + (f" {_number(part)} {small}" if part else "")
    if piece[0].isdigit():
        return _number(piece.replace(",", ""))
    return _SAME.get(piece, piece)


def _number(digits: str) -> str:
    whole, _, part = digits.partition(".")
    if len(whole) > 6:
        return " ".join(_ONES[int(d)] for d in digits if d != ".")
    if not part and len(whole) == 4 and whole[0] in "12" and whole[1:] != "000":
        return f"{spell(int(whole[:2]))} {spell(int(whole[2:]))}"
    return spell(int(whole)) + (" point " + " ".join(_ONES[int(d)] for d in part) if part else "")


def word_errors(said: Sequence[str], heard: Sequence[str]) -> int:
    """Fewest words to put in, take out or change to get from one to the other."""
    return int(Levenshtein.distance(said, heard))
