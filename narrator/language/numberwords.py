"""The words of numbers (``grammars/numbers.toml``), ready to look up."""

from __future__ import annotations

from narrator.language.figures import numeral
from narrator.language.tables import load


def _values(ident: str) -> dict[str, float]:
    return next(row["values"] for row in load("numbers")["words"] if row["id"] == ident)


def _words(ident: str) -> frozenset[str]:
    return frozenset(next(row["words"] for row in load("numbers")["lists"] if row["id"] == ident))


ONES, ZERO, TEENS, TENS = (_values(f"number.{name}") for name in ("ones", "zero", "teens", "tens"))
DENOMINATORS, SIGNS, GROUPS = (_values(f"number.{name}") for name in ("denominators", "signs", "groups"))
RULE_OF = {word: row["id"] for row in load("numbers")["words"] for word in row["values"]}
POINT_NOUN, TIMING, LABELS, STRICT = (
    _words(f"number.{name}") for name in ("point.noun", "thirtyseconds.time", "label", "label.strict")
)
DIGITS = ONES | ZERO | {"oh": 0, "o": 0}
POINTS = frozenset(("point", "decimal", "dot"))
ORDINAL = frozenset(("th", "ths", "nd", "nds", "rd", "rds"))
BARE = frozenset(("half", "quarter", "third", "eighth", "sixteenth", "tenth"))
SCALES = frozenset(("hundred", "thousand", "million"))
FRACTIONS = (
    frozenset((*DENOMINATORS, *BARE, "second", "seconds", "2nds", "fourth", "fourths", "4ths")) | ORDINAL
)
"""Words of which a line that says a fraction has one."""
STARTERS = frozenset(
    (*ONES, *ZERO, *TEENS, *TENS, *SIGNS, *GROUPS, *BARE, "hundred", "thousand", "point", "a", "an")
)
TOLD_OF = STARTERS | frozenset("open dead short shorted good fine okay ok low down missing nothing".split())
"""What is told of a cylinder or a plug by its number: *two's point eight, three's open*."""


def is_number(word: str) -> bool:
    """Whether a token may begin or continue a number by itself."""
    return (word in RULE_OF and word not in DENOMINATORS) or (
        word[:1].isdigit() and numeral(word) is not None
    )
