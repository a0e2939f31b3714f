"""Spoken numbers, codes and part numbers as figures by plain regular expressions, for general_pipeline.py."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

Row = dict[str, Any]
SMALL = {w: i for i, w in enumerate(
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen"
    " seventeen eighteen nineteen".split())} | {"oh": 0}  # fmt: skip
TENS = {w: 10 * i for i, w in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), 2)}
NUMBER = "|".join([*SMALL, *TENS, "hundred", "thousand"])
AND = rf"(?:(?<=hundred)|(?<=thousand)) and(?= (?:{NUMBER})\b)"
RUN = re.compile(rf"\b(?:(?:{NUMBER})\b(?:{AND})?[ -]?)*(?:point (?:(?:{NUMBER})\b ?)+)?")
RADIO = {w: w[0] for w in (
    "alpha bravo charlie delta echo foxtrot golf hotel india juliet kilo lima mike november oscar papa quebec"
    " romeo sierra tango uniform victor whiskey xray yankee zulu".split())}  # fmt: skip
DTC = "[PBCU][0-3][0-9A-F]{3}$"
SIGNS = {
    **RADIO,
    **{w: str(n) for w, n in SMALL.items() if n < 10},
    **{c: c for c in "abcdefghijklmnopqrstuvwxyz"},
    "dash": "-",
}


def value_of(word: str) -> float | None:
    """A single word or figure as a number."""
    try:
        return float(word)
    except ValueError:
        return {**SMALL, **TENS}.get(word)


def cardinal(said: list[str]) -> int:
    """Whole number; pairs as a shop says them ("three ninety five" 395, "one oh five" 105)."""
    total = part = 0
    last = 0
    for word in said:
        if word == "hundred":
            part = max(part, 1) * 100
        elif word == "thousand":
            total, part = total + max(part, 1) * 1000, 0
        else:
            value = {**SMALL, **TENS}[word]
            new_pair = (
                part and part % 100 and not (word in SMALL and 0 < value < 10 and last in TENS.values())
            )
            part = part * (10 if word in SMALL and value < 10 else 100) + value if new_pair else part + value
            last = value
    return total + part


def figures_for_words(text: str) -> str:
    """The text with its spoken numbers as figures."""

    def figure(found: re.Match[str]) -> str:
        whole, point, fraction = found.group().replace("-", " ").partition("point")
        said = [word for word in whole.split() if word != "and"]
        if not said and not point:
            return found.group()
        digits = str(cardinal(said)) if said else "0"
        tail = "." + "".join(str(int(value_of(w) or 0)) for w in fraction.split()) if point else ""
        return digits + tail + (" " if found.group().endswith(" ") else "")

    return RUN.sub(figure, text.lower())


def spelled(text: str) -> Iterator[Row]:
    """Trouble codes, part numbers, VINs, and a vehicle after its year."""
    said = re.findall(r"[a-z0-9]+", text.lower())
    signs = [SIGNS.get(word, word.upper() if re.search(r"\d", word) else " ") for word in said]
    line = "".join(signs).upper()
    yield from (
        {"type": "dtc", "code": code}
        for code in re.findall(r"(?<![A-Z0-9])[PBCU][0-3][0-9A-F]{3}(?![A-Z0-9])", line)
    )
    for vin in re.findall(r"(?<![A-Z0-9])[A-HJ-NPR-Z0-9]{17}(?![A-Z0-9])", line):
        yield {"type": "vin", "vin": vin}
    yield from ({"type": "part_number", "number": number} for number in part_numbers(text, line))
    car = re.search(
        r"\b((?:19[6-9]|20[0-3])\d) (?!and |the |or )([a-z]{3,}) ([a-z]{3,})", figures_for_words(text)
    )
    if car:
        yield {"type": "vehicle", "year": int(car[1]), "make": car[2].title(), "model": car[3].title()}


def part_numbers(text: str, line: str) -> Iterator[str]:
    """As written (TA-55120), or spelled: two letters and more, then three digits and more."""
    written = re.findall(r"\b[A-Z]{1,3}-?\d{3,}(?:-?[A-Z0-9]+)?\b", text)
    spoken = re.findall(r"(?<![A-Z0-9])[A-HJ-Z]{2,4}-?\d{2,}(?:-\d+|[A-Z])?(?![A-Z0-9])", line)
    yield from dict.fromkeys(one for one in [*written, *spoken] if len(one) > 4 and not re.match(DTC, one))
