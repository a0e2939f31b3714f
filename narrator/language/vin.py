"""Vehicle identification numbers: 17 characters, the check digit of 49 CFR 565, and what it cannot hear.

Source of values and weights: 49 CFR 565 Table III and its sample calculation (seen in a copy). ISO 3779 does
not require the check digit: one that does not agree is a reason to look, never an error.
"""

from __future__ import annotations

from narrator.language.spelled import Piece
from narrator.language.tables import load
from narrator.language.tokens import Notes
from narrator.values import Look, Vin

_VALUES: dict[str, int] = load("spelling")["values"][0]["letters"] | {str(d): d for d in range(10)}
_WEIGHTS: list[int] = load("spelling")["values"][0]["weights"]
_PAIRS: list[str] = load("spelling")["confusable"][0]["pairs"]
_NEVER = str.maketrans("IOQ", "100")
LENGTH = 17


def check_digit(vin: str) -> str | None:
    """The check digit of a 17-character VIN (its ninth is not looked at); None if a character is wrong."""
    if len(vin) != LENGTH:
        return None
    total = 0
    for place, (char, weight) in enumerate(zip(vin, _WEIGHTS, strict=True)):
        if place == 8:
            continue
        value = _VALUES.get(char)
        if value is None:
            return None
        total += value * weight
    return "X" if total % 11 == 10 else str(total % 11)


def confusable(vin: str) -> list[str]:
    """The pairs of characters in ``vin`` that sound alike and that the check digit cannot tell apart."""
    return [f"{pair[0]}/{pair[1]}" for pair in _PAIRS if pair[0] in vin or pair[1] in vin]


def read_vin(notes: Notes, run: list[Piece], cued: bool) -> bool:
    """Enter the VIN that a spelled run holds, with what there is to look at; tells whether it did."""
    chars = "".join(p.chars for p in run if p.chars not in "-/.")
    if len(chars) != LENGTH or not chars.isalnum():
        if cued and 11 < len(chars) < 21:
            span = notes.span(run[0].start, run[-1].end)
            notes.looks.append(
                Look("vin", f"a VIN has 17 characters, {len(chars)} were heard: {chars}", 0, span)
            )
            return True
        return False
    vin = chars.translate(_NEVER)
    at = (run[0].start, run[-1].end)
    span = notes.span(*at)
    good = check_digit(vin) == vin[8]
    rule = "vin.written" if len(run) == 1 else "vin.spelled"
    notes.entities.append(Vin(span=span, at=at, rule=rule, vin=vin, check=good))
    if vin != chars:
        notes.looks.append(Look("vin", "I, O and Q never stand in a VIN: read as 1, 0 and 0", 0, span))
    if not good:
        notes.looks.append(Look("vin", "the check digit does not agree: read the VIN again", 0, span))
    elif pairs := confusable(vin):
        pairs_said = ", ".join(pairs)
        reason = f"the check digit cannot tell {pairs_said} apart: read these back with the spelling alphabet"
        notes.looks.append(Look("vin", reason, 0, span))
    return True
